/** A simulated machine that can be asked, again and again, for what it sent up to some time. */

import { type MachineProfile, machineProfileSchema, quantise, type SampleBlock } from '@warmbrick/signals';
import { localDay, localInstantMs } from './calendar.js';
import type { Climate } from './climate.js';
import { type DutySource, habitualDuty, scheduledDuty } from './duty-source.js';
import { type EngineMotion, stepMotion } from './engine-motion.js';
import { type Habit, traitsByHabit } from './habits.js';
import { countSecond, createBody, type MachineBody, stepBody } from './machine-body.js';
import { createRandom, seedFrom } from './random.js';
import { createSender } from './sample-sender.js';
import type { SimulatedMachine } from './simulated-machine.js';
import { createAir } from './site-air.js';
import type { TruthEvent } from './truth.js';
import { createTruthRecorder, isIdling, isRunning } from './truth-recorder.js';

export interface Simulation {
  /** All samples after the last call up to and including this time; null when there are none. */
  advanceTo(timeMs: number): SampleBlock | null;
  /** What has happened and ended so far, in the order of its end; of very long simulations only the newer part. */
  readonly truth: readonly TruthEvent[];
}

/** Early spring in a northern quarry. Source: invented. */
const defaultClimate: Climate = { meanTempC: 1, swingC: 4, daySpreadC: 2 };
const tickMs = 1000;
/** Truth events kept; beyond them the older half is forgotten. Source: design decision, about half a year. */
const truthKept = 10_000;
/** After a fill the tank stands at this level: room is left to expand. Source: common practice, never brim-full. */
const filledDefPct = 90;

/**
 * Starts a simulation; nothing happens before `advanceTo`.
 *
 * Range: the same machine, seed and start give the same samples and truth, however the calls are split.
 * Without a schedule the machine has already lived from the day before, so that it is found at work when started in a shift.
 * Errors: zod's, when the machine's profile is not one.
 */
export function createSimulation(
  machine: SimulatedMachine,
  options: { readonly seed: number; readonly startMs: number },
): Simulation {
  const profile = machineProfileSchema.parse(machine.profile);
  const seed = seedFrom(options.seed, machine.machineId);
  const startMs = Math.ceil(options.startMs / tickMs) * tickMs;
  const bornMs = machine.schedule === undefined ? startOfDayBefore(startMs, profile.timeZone) : startMs;
  const duty: DutySource =
    machine.schedule === undefined
      ? habitualDuty(machine.habit, profile, { timeMs: bornMs, seed })
      : scheduledDuty(machine.schedule, startMs);
  const life = createLife(machine, { profile, seed, startMs, bornMs, duty });
  return {
    truth: life.truth,
    advanceTo(timeMs: number): SampleBlock | null {
      const uptoMs = Math.floor(timeMs / tickMs) * tickMs;
      return life.run(uptoMs);
    },
  };
}

interface Birth {
  readonly profile: MachineProfile;
  readonly seed: number;
  readonly startMs: number;
  readonly bornMs: number;
  readonly duty: DutySource;
}

function createLife(machine: SimulatedMachine, birth: Birth) {
  const { profile, seed, startMs } = birth;
  const truth: TruthEvent[] = [];
  const events: TruthEvent[] = [];
  const recorder = createTruthRecorder(profile, events);
  const random = createRandom(seedFrom(seed, 'noise'));
  const air = createAir(machine.climate ?? defaultClimate, profile.timeZone, seed);
  const body = bodyAtBirth(machine, profile, air(birth.bornMs));
  const motion: EngineMotion = { speedRpm: 0, loadPct: 0, gust: 0 };
  const sender = createSender(machine, { seed, startMs, truth });
  let timed = birth.duty();
  let nowMs = birth.bornMs;

  const tick = (): void => {
    while (nowMs >= timed.endMs) timed = birth.duty();
    const intoSegmentS = (nowMs - timed.startMs) / 1000;
    const { segment } = timed;
    if (segment.kind === 'start' && intoSegmentS === 0 && machine.schedule === undefined) fillTank(body, machine.habit);
    const coolantTempC = body.readings.coolantTempC;
    stepMotion(motion, { segment, intoSegmentS, baseIdleRpm: profile.baseIdleRpm, coolantTempC }, random);
    stepBody(body, motion, { profile, airC: air(nowMs) });
    const speedRpm = quantise('engineSpeedRpm', Math.fround(motion.speedRpm));
    const loadPct = quantise('engineLoadPct', Math.fround(motion.loadPct));
    countSecond(body, isRunning(speedRpm, profile), isIdling(speedRpm, loadPct, profile));
    recorder.see({
      timeMs: nowMs,
      speedRpm,
      loadPct,
      coolantTempC: body.readings.coolantTempC,
      turbineMetalTempC: body.turbineMetalTempC,
    });
    keepEvents(truth, events, startMs);
    if (nowMs >= startMs) sender.see(nowMs, timed, body);
  };
  return {
    truth,
    run(uptoMs: number): SampleBlock | null {
      for (; nowMs <= uptoMs; nowMs += tickMs) tick();
      return sender.take();
    },
  };
}

/** Moves what ended since the start of the simulation to the truth, and forgets the oldest when there is too much of it. */
function keepEvents(truth: TruthEvent[], events: TruthEvent[], startMs: number): void {
  for (const event of events) if (event.endedMs >= startMs) truth.push(event);
  events.length = 0;
  if (truth.length > truthKept) truth.splice(0, truth.length - truthKept / 2);
}

function bodyAtBirth(machine: SimulatedMachine, profile: MachineProfile, airC: number): MachineBody {
  return createBody(
    {
      ambientTempC: airC,
      engineHours: machine.engineHours ?? 3000,
      idleHours: machine.idleHours ?? 900,
      defLevelPct: machine.defLevelPct ?? 70,
      sootPct: machine.sootPct ?? 35,
    },
    profile,
  );
}

function fillTank(body: MachineBody, habit: Habit): void {
  if (body.readings.defLevelPct < traitsByHabit[habit].fillBelowPct) body.readings.defLevelPct = filledDefPct;
}

function startOfDayBefore(timeMs: number, timeZone: string): number {
  return localInstantMs(localDay(timeMs, timeZone) - 1, 0, timeZone);
}

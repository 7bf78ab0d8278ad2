/** A simulated machine that can be asked, again and again, for what it sent up to some time. */

import {
  type FaultReport,
  type MachineProfile,
  machineProfileSchema,
  quantise,
  type SampleBlock,
} from '@warmbrick/signals';
import { ongoingEvents } from './aftertreatment/aftertreatment.js';
import { createFaultSender } from './aftertreatment/fault-sender.js';
import { type Second, secondBefore } from './aftertreatment/second.js';
import { createSpells } from './aftertreatment/spells.js';
import { localDay, localInstantMs } from './calendar.js';
import type { Climate } from './climate.js';
import { type DutySource, habitualDuty, scheduledDuty } from './duty-source.js';
import { type EngineMotion, stepMotion } from './engine-motion.js';
import { isFaulty, type SensorFault } from './gateway.js';
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
  /** What goes on after the last call, each as if it ended there. */
  ongoing(): readonly TruthEvent[];
  /** Fault codes that were reported since the last time they were taken; none without `aftertreatment`. */
  takeFaults(): readonly FaultReport[];
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
    ongoing: life.ongoing,
    takeFaults: life.takeFaults,
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
  const aftertreatmentRandom = createRandom(seedFrom(seed, 'aftertreatment'));
  const air = createAir(machine.climate ?? defaultClimate, profile.timeZone, seed);
  const body = bodyAtBirth(machine, profile, { airC: air(birth.bornMs), events });
  const motion: EngineMotion = { speedRpm: 0, loadPct: 0, gust: 0 };
  const sender = createSender(machine, { seed, startMs, truth });
  const faults = createFaultPassage(machine, body, events);
  const second = secondBefore({ profile, readings: body.readings, random: aftertreatmentRandom });
  let timed = birth.duty();
  let nowMs = birth.bornMs;

  const tick = (): void => {
    while (nowMs >= timed.endMs) timed = birth.duty();
    const intoSegmentS = (nowMs - timed.startMs) / 1000;
    const { segment } = timed;
    if (segment.kind === 'start' && intoSegmentS === 0 && machine.schedule === undefined) fillTank(body, machine.habit);
    const coolantTempC = body.readings.coolantTempC;
    const { baseIdleRpm } = profile;
    const torqueLimitPct = torqueLimit(body);
    stepMotion(motion, { segment, intoSegmentS, baseIdleRpm, coolantTempC, torqueLimitPct }, random);
    second.timeMs = nowMs;
    second.sinceStartS = (nowMs - startMs) / 1000;
    second.isKeyOn = segment.kind !== 'off';
    second.untilStartS = (timed.endMs - nowMs) / 1000;
    second.airC = air(nowMs);
    stepBody(body, motion, second);
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
    if (nowMs >= startMs) {
      const isPassedOn = sender.see(nowMs, timed, body);
      faults.see(second, isPassedOn);
    }
    keepEvents(truth, events, startMs);
  };
  return {
    truth,
    ongoing: () => [...recorder.ongoing(nowMs), ...faults.ongoing(nowMs)],
    takeFaults: faults.take,
    run(uptoMs: number): SampleBlock | null {
      for (; nowMs <= uptoMs; nowMs += tickMs) tick();
      return sender.take();
    },
  };
}

/** Fault codes and faulty sensors of a machine with a whole aftertreatment; nothing on the others. */
function createFaultPassage(machine: SimulatedMachine, body: MachineBody, events: TruthEvent[]) {
  const { aftertreatment } = body;
  const codes = createFaultSender(machine.machineId);
  const sensorFaults = aftertreatment === null ? [] : (machine.sensorFaults ?? []);
  const spells = createSpells(events);
  return {
    see(second: Second, isPassedOn: boolean): void {
      if (aftertreatment === null) return;
      const { timeMs, sinceStartS, isBurning } = second;
      codes.see(aftertreatment.controller, { timeMs, isBurning, isPassedOn });
      for (let i = 0; i < sensorFaults.length; i++) {
        const { channel, kind } = sensorFaults[i] as SensorFault;
        if (!spells.begins(channel, isFaulty(sensorFaults[i] as SensorFault, sinceStartS), timeMs)) continue;
        const startedMs = timeMs;
        spells.open(channel, (endedMs) => ({ kind: 'sensor-fault', startedMs, endedMs, channel, fault: kind }));
      }
    },
    ongoing: (timeMs: number): TruthEvent[] =>
      aftertreatment === null ? [] : [...ongoingEvents(aftertreatment, timeMs), ...spells.ongoing(timeMs)],
    take: () => codes.take(),
  };
}

function torqueLimit({ aftertreatment }: MachineBody): number {
  const limitPct = aftertreatment?.controller.torqueLimitPct ?? 100;
  return limitPct < 100 ? limitPct : Number.POSITIVE_INFINITY;
}

/** Moves what ended since the start of the simulation to the truth, and forgets the oldest when there is too much of it. */
function keepEvents(truth: TruthEvent[], events: TruthEvent[], startMs: number): void {
  for (const event of events) if (event.endedMs >= startMs) truth.push(event);
  events.length = 0;
  if (truth.length > truthKept) truth.splice(0, truth.length - truthKept / 2);
}

function bodyAtBirth(
  machine: SimulatedMachine,
  profile: MachineProfile,
  world: { airC: number; events: TruthEvent[] },
): MachineBody {
  const { aftertreatment: options } = machine;
  const fillBelowPct = machine.schedule === undefined ? traitsByHabit[machine.habit].fillBelowPct : 0;
  return createBody(
    {
      ambientTempC: world.airC,
      engineHours: machine.engineHours ?? 3000,
      idleHours: machine.idleHours ?? 900,
      defLevelPct: machine.defLevelPct ?? 70,
      sootPct: machine.sootPct ?? 35,
      aftertreatment: options === undefined ? null : { options, fillBelowPct, events: world.events },
    },
    profile,
  );
}

/** The plain tank fills itself; that of a whole aftertreatment is filled before the start. */
function fillTank(body: MachineBody, habit: Habit): void {
  if (body.aftertreatment !== null) return;
  if (body.readings.defLevelPct < traitsByHabit[habit].fillBelowPct) body.readings.defLevelPct = filledDefPct;
}

function startOfDayBefore(timeMs: number, timeZone: string): number {
  return localInstantMs(localDay(timeMs, timeZone) - 1, 0, timeZone);
}

/** A simulated machine that can be asked, again and again, for what it sent up to some time. */

import {
  type Column,
  createColumn,
  type MachineProfile,
  type MachineProfileInput,
  machineProfileSchema,
  quantise,
  quantiseColumn,
  type SampleBlock,
} from '@warmbrick/signals';
import { hourOfDay, localDay, localInstantMs, offsetMs } from './calendar.js';
import { ambientTempC, type Climate, dayMeanTempC } from './climate.js';
import type { DutySegment, TimedSegment } from './duty.js';
import { type DutySource, habitualDuty, scheduledDuty } from './duty-source.js';
import { type EngineMotion, stepMotion } from './engine-motion.js';
import { createFaultOverlay, type Gateway, isLost, type SensorFault } from './gateway.js';
import { type Habit, traitsByHabit } from './habits.js';
import { countSecond, createBody, type MachineBody, type SimulatedChannel, stepBody } from './machine-body.js';
import { createRandom, seedFrom } from './random.js';
import { createTruthRecorder, isIdling, isRunning, type TruthEvent } from './truth.js';

export interface SimulatedMachine {
  readonly machineId: string;
  readonly profile: MachineProfileInput;
  readonly habit: Habit;
  /** Duty from the start of the simulation, then off; without it, shifts by the habit and the profile's calendar. */
  readonly schedule?: readonly DutySegment[];
  /** What it sends. */
  readonly channels: readonly SimulatedChannel[];
  readonly gateway?: Gateway;
  readonly sensorFaults?: readonly SensorFault[];
  readonly climate?: Climate;
  /** How the machine was before; defaults: 3000 h, 900 h, 70 %, 35 %. */
  readonly engineHours?: number;
  readonly idleHours?: number;
  readonly defLevelPct?: number;
  readonly sootPct?: number;
}

export interface Simulation {
  /** All samples after the last call up to and including this time; null when there are none. */
  advanceTo(timeMs: number): SampleBlock | null;
  /** What has happened and ended so far, in the order of its end. */
  readonly truth: readonly TruthEvent[];
}

/** Early spring in a northern quarry. Source: invented. */
const defaultClimate: Climate = { meanTempC: 1, swingC: 4, daySpreadC: 2 };
const tickMs = 1000;
const defaultAwakeS = 120;
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
    for (const event of events) if (event.endedMs >= startMs) truth.push(event);
    events.length = 0;
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

/** Decides which seconds are sent, and collects them. */
function createSender(machine: SimulatedMachine, to: { seed: number; startMs: number; truth: TruthEvent[] }) {
  const gateway = machine.gateway ?? {};
  const periodMs = Math.max(1, Math.round(gateway.samplePeriodS ?? 1)) * 1000;
  const awakeMs = (gateway.awakeAfterKeyOffS ?? defaultAwakeS) * 1000;
  const overlay = createFaultOverlay(machine.sensorFaults ?? [], to.seed);
  const sink = createCollector(machine);
  const values = new Array<number>(machine.channels.length);
  let lastSentMs = Number.NaN;
  let hasLost = false;
  let keyOffMs = Number.NaN;
  return {
    see(timeMs: number, timed: TimedSegment, body: MachineBody): void {
      const isKeyOff = timed.segment.kind === 'off';
      if (!isKeyOff) keyOffMs = Number.NaN;
      else if (keyOffMs !== keyOffMs) keyOffMs = timed.startMs;
      if (timeMs % periodMs !== 0 || timeMs - keyOffMs >= awakeMs) return;
      const sinceStartS = (timeMs - to.startMs) / 1000;
      if (isLost(gateway, sinceStartS)) {
        hasLost = true;
        return;
      }
      if (hasLost && lastSentMs === lastSentMs) {
        const isOn = !isKeyOff && body.readings.engineSpeedRpm > 0;
        const durationS = (timeMs - lastSentMs) / 1000;
        to.truth.push({ kind: 'gap', startedMs: lastSentMs, endedMs: timeMs, durationS, isRunning: isOn });
      }
      hasLost = false;
      lastSentMs = timeMs;
      for (let c = 0; c < machine.channels.length; c++) {
        const name = machine.channels[c] as SimulatedChannel;
        const value = body.readings[name];
        values[c] = overlay.isEmpty ? value : overlay.read(name, value, sinceStartS);
      }
      sink.add(timeMs, values);
    },
    take: () => sink.take(),
  };
}

/** Columns that grow as samples come in. */
function createCollector(machine: SimulatedMachine) {
  const { machineId, channels } = machine;
  let capacity = 256;
  let length = 0;
  let timeMs = new Float64Array(capacity);
  let columns: Column[] = channels.map((name) => createColumn(name, capacity));
  const grow = (): void => {
    capacity *= 2;
    const wider = new Float64Array(capacity);
    wider.set(timeMs);
    timeMs = wider;
    columns = columns.map((old, c) => {
      const column = createColumn(channels[c] as SimulatedChannel, capacity);
      column.set(old);
      return column;
    });
  };
  return {
    add(atMs: number, values: readonly number[]): void {
      if (length === capacity) grow();
      timeMs[length] = atMs;
      for (let c = 0; c < columns.length; c++) (columns[c] as Column)[length] = values[c] as number;
      length++;
    },
    take(): SampleBlock | null {
      if (length === 0) return null;
      const taken = channels.map((name, c) => {
        const column = (columns[c] as Column).slice(0, length);
        quantiseColumn(name, column);
        return [name, column] as const;
      });
      const block: SampleBlock = { machineId, timeMs: timeMs.slice(0, length), channels: Object.fromEntries(taken) };
      length = 0;
      return block;
    },
  };
}

/** Ambient temperature by instant, with the local day worked out once for each. */
function createAir(climate: Climate, timeZone: string, seed: number): (timeMs: number) => number {
  let untilMs = Number.NEGATIVE_INFINITY;
  let zoneOffsetMs = 0;
  let means: readonly [number, number] = [climate.meanTempC, climate.meanTempC];
  return (timeMs) => {
    if (timeMs >= untilMs) {
      const day = localDay(timeMs, timeZone);
      zoneOffsetMs = offsetMs(timeMs, timeZone);
      means = [dayMeanTempC(climate, day, seed), dayMeanTempC(climate, day + 1, seed)];
      untilMs = Math.max(localInstantMs(day + 1, 0, timeZone), timeMs + tickMs);
    }
    return ambientTempC(climate, means, hourOfDay(timeMs, zoneOffsetMs));
  };
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

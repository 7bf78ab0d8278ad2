/** Runs a scenario through everything that a live machine's data goes through. */

import {
  builtInSchedules,
  builtInThresholds,
  createAnalyzer,
  type DerateEpisode,
  type DerateInquiry,
  derateEpisodes,
  type FaultEpisode,
  type FaultInput,
  type Finding,
  fleetFaultTableSchema,
  foldFaults,
  type InquiryRevision,
  initialFaultLog,
  inquireOrigin,
  reviseInquiry,
  unknownLamps,
} from '@warmbrick/analysis';
import {
  type ChannelName,
  createColumn,
  type FaultReport,
  machineProfileSchema,
  quantise,
  type SampleBlock,
} from '@warmbrick/signals';
import type { Scenario } from './derate-scenario.js';

const startMs = Date.UTC(2026, 2, 2, 6);
const machineId = 'scenario-machine';
const stepS = 30;
const startHours = 1000;
const repeatS = 60;

const drives: Record<'work' | 'idle' | 'off', Partial<Record<ChannelName, number>>> = {
  work: { engineSpeedRpm: 1700, engineLoadPct: 75, exhaustTempC: 380, fuelRateLPerH: 30, coolantTempC: 86 },
  idle: { engineSpeedRpm: 950, engineLoadPct: 12, exhaustTempC: 140, fuelRateLPerH: 3, coolantTempC: 80 },
  off: { engineSpeedRpm: 0, engineLoadPct: 0, exhaustTempC: 60, fuelRateLPerH: 0, coolantTempC: 60 },
};

export interface ScenarioRun {
  readonly derates: readonly DerateEpisode[];
  readonly faults: readonly FaultEpisode[];
  readonly findings: readonly Finding[];
  readonly inquiry: DerateInquiry;
  readonly history: readonly InquiryRevision[];
}

interface Moment {
  /** By the scenario's own time. */
  readonly atS: number;
  /** By the machine's clock. */
  readonly timeMs: number;
  readonly isRunning: boolean;
  readonly isSent: boolean;
  readonly values: Partial<Record<ChannelName, number>>;
}

/** Runs it; late messages come after a first answer. */
export function runScenario(scenario: Scenario): ScenarioRun {
  const profile = machineProfileSchema.parse(scenario.profile);
  const schedules = scenario.schedules.map((id) => {
    const schedule = builtInSchedules.find((one) => one.id === id);
    if (schedule === undefined) throw new Error(`no built-in schedule ${id}`);
    return schedule;
  });
  const fleetTable = fleetFaultTableSchema.parse(scenario.fleetTable);
  const moments = momentsOf(scenario);
  const samples = blockOf(moments);
  const findings = findingsOf(samples, profile);
  const judge = (inputs: readonly FaultInput[]) => {
    const log = foldFaults(initialFaultLog, inputs);
    const faults = log.episodes;
    const derates = derateEpisodes(findings, faults, { profile, fleetTable });
    const derate = derates.at(-1);
    if (derate === undefined) return null;
    const inquiry = inquireOrigin({ derate, faults, samples: [samples], findings, profile, schedules, fleetTable });
    return { derates, faults, inquiry };
  };
  const isLate = scenario.messages.some(({ late }) => late);
  const first = isLate ? judge(inputsOf(scenario, moments, false)) : null;
  const last = judge(inputsOf(scenario, moments, true));
  if (last === null) throw new Error(`${scenario.title}: no derate`);
  const before = first === null ? [] : reviseInquiry([], first.inquiry, startMs);
  return { ...last, findings, history: reviseInquiry(before, last.inquiry, startMs + 1) };
}

function momentsOf(scenario: Scenario): Moment[] {
  const moments: Moment[] = [];
  const set = new Map<ChannelName, readonly [number, number] | null>();
  let atS = 0;
  let jumpMs = 0;
  let hours = startHours;
  for (const stretch of scenario.course) {
    jumpMs += stretch.clockJumpMin * 60_000;
    for (const [name, course] of Object.entries(stretch.set)) set.set(name as ChannelName, course);
    const isRunning = stretch.drive !== 'off';
    for (let s = 0; s < stretch.for; s += stepS) {
      const values: Partial<Record<ChannelName, number>> = {
        ...(stretch.drive === 'silent' ? {} : drives[stretch.drive]),
        ambientTempC: 12,
      };
      for (const [name, course] of set) {
        const isOfStretch = name in stretch.set;
        if (course === null) delete values[name];
        else values[name] = isOfStretch ? course[0] + ((course[1] - course[0]) * s) / stretch.for : course[1];
      }
      if (scenario.hasHours) values.engineHours = hours;
      // Real engines are never still.
      if (isRunning && values.engineSpeedRpm !== undefined) values.engineSpeedRpm += (s / stepS) % 5;
      moments.push({
        atS: atS + s,
        timeMs: startMs + (atS + s) * 1000 + jumpMs,
        isRunning,
        isSent: stretch.drive !== 'silent',
        values,
      });
      if (isRunning) hours += stepS / 3600;
    }
    atS += stretch.for;
  }
  return moments;
}

function blockOf(moments: readonly Moment[]): SampleBlock {
  const byTime = new Map(moments.filter(({ isSent }) => isSent).map((moment) => [moment.timeMs, moment]));
  const rows = [...byTime.values()].sort((a, b) => a.timeMs - b.timeMs);
  const names = [...new Set(rows.flatMap(({ values }) => Object.keys(values)))] as ChannelName[];
  const block: SampleBlock = {
    machineId,
    timeMs: Float64Array.from(rows, ({ timeMs }) => timeMs),
    channels: Object.fromEntries(
      names.map((name) => {
        const column = createColumn(name, rows.length);
        rows.forEach(({ values }, i) => {
          const value = values[name];
          if (value !== undefined) column[i] = quantise(name, value);
        });
        return [name, column];
      }),
    ),
  };
  return block;
}

function findingsOf(block: SampleBlock, profile: ReturnType<typeof machineProfileSchema.parse>): Finding[] {
  const analyzer = createAnalyzer({ machineId, profile, thresholds: builtInThresholds });
  const findings = new Map(analyzer.push(block).findings.map((finding) => [finding.id, finding]));
  return [...findings.values()];
}

/** Reports and messages as they were sent: lists again every minute while the engine runs. */
function inputsOf(scenario: Scenario, moments: readonly Moment[], hasLate: boolean): FaultInput[] {
  const inputs: FaultInput[] = [];
  const timeAt = (atS: number) => {
    const moment = moments.findLast((one) => one.atS <= atS) ?? moments[0];
    return (moment?.timeMs ?? startMs) + (atS - (moment?.atS ?? 0)) * 1000;
  };
  const endS = (moments.at(-1)?.atS ?? 0) + stepS;
  const sent = scenario.messages.filter(({ late }) => hasLate || !late);
  const wanted = [...emptyLists(scenario), ...sent].sort((a, b) => a.at - b.at);
  wanted.forEach((message, i) => {
    const { at, from: sourceAddress, event, previously, active } = message;
    if (event !== undefined) {
      const { code, kind, origin } = event;
      inputs.push({ machineId, timeMs: timeAt(at), sourceAddress, kind, origin, ...code });
    }
    if (previously !== undefined) inputs.push(listOf(message, 'previously-active', timeAt(at)));
    if (active === undefined) return;
    const next = wanted.slice(i + 1).find((other) => other.from === sourceAddress && (other.active ?? other.silent));
    for (let s = at; s < (next?.at ?? endS); s += repeatS) {
      const isRunning = moments.findLast((one) => one.atS <= s)?.isRunning === true;
      if (s === at || isRunning) inputs.push(listOf(message, 'active', timeAt(s)));
    }
  });
  return inputs;
}

/** What a controller without a fault sends: a list without codes. */
function emptyLists({ hasEmptyLists, messages }: Scenario): Scenario['messages'][number][] {
  if (!hasEmptyLists) return [];
  const senders = new Set(messages.filter(({ active }) => active !== undefined).map(({ from }) => from));
  return [...senders].map((from) => ({ at: -1, from, active: [], lamps: [], late: false }));
}

function listOf(message: Scenario['messages'][number], kind: FaultReport['kind'], timeMs: number): FaultReport {
  const { active = [], previously = [], andMore, lamps } = message;
  const more = Array.from({ length: andMore?.count ?? 0 }, (_, k) => ({
    spn: (andMore?.spn ?? 0) + k,
    fmi: andMore?.fmi ?? 0,
  }));
  const list = kind === 'active' ? [...active, ...more] : previously;
  const lit = Object.fromEntries(
    Object.keys(unknownLamps).map((name) => [
      name,
      list.length > 0 && (lamps as string[]).includes(name) ? 'on' : 'off',
    ]),
  );
  return {
    machineId,
    timeMs,
    sourceAddress: message.from ?? 0,
    kind,
    lamps: lit as unknown as FaultReport['lamps'],
    flash: 255,
    codes: list.map(({ spn, fmi }) => ({ spn, fmi, occurrenceCount: 1, conversionMethod: 0 })),
  };
}

/** A handover sheet out of recordings, without any store. */

import { plausibleTimesMs, type TimeSpan } from '@warmbrick/analysis';
import type { HandoverDocument } from '@warmbrick/contracts';
import {
  buildHandover,
  groupCodes,
  type HandoverInput,
  inducementClocks,
  windowMoments,
  windowSpan,
} from '@warmbrick/reports';
import type { SampleBlock } from '@warmbrick/signals';
import {
  inquireRecorded,
  type MachineInput,
  type RecordedMachine,
  readMachine,
  readSpans,
  recordedDerates,
  spansOfInquiries,
} from './read-machine.js';

export interface HandoverAsked {
  readonly period: { readonly fromMs: number | null; readonly toMs: number | null };
  /** What stands for the machine; null shows its identity. */
  readonly maskLabel: string | null;
  readonly madeAtMs: number;
  readonly software: string;
}

export interface RecordedHandover {
  readonly document: HandoverDocument;
  readonly damage: RecordedMachine['damage'];
}

/** Around the present and the starts of active faults, for the hour counter. Source: as `inducementClocks`. */
const clockSpan = { beforeMs: 6 * 3_600_000, aroundMs: 15 * 60_000 };

/**
 * Makes the sheet; the recordings are read twice, first for what happened, then for the signals around it.
 *
 * Errors: those of `readMachine`.
 */
export async function handoverOfRecordings(input: MachineInput, asked: HandoverAsked): Promise<RecordedHandover> {
  const machine = await readMachine(input);
  const period = periodOf(machine, asked);
  const faults = machine.faults.filter(({ startedMs }) => startedMs < period.toMs);
  const derates = recordedDerates(machine).filter(
    ({ startedMs, endedMs }) => startedMs < period.toMs && (endedMs === null || endedMs >= period.fromMs),
  );
  const moments = [...windowMoments(groupCodes(faults, period), period).values()].flat();
  const atMs = Math.min(period.toMs, machine.summary?.observed.toMs ?? period.toMs);
  const samples = await readSpans(input, machine.machineId, [
    ...spansOfInquiries(derates, faults),
    ...[...moments, ...derates.map(({ startedMs }) => startedMs)].map(windowSpan),
    ...faults
      .filter(({ endedMs }) => endedMs === null)
      .map(({ startedMs }) => ({ fromMs: startedMs - clockSpan.aroundMs, toMs: startedMs + clockSpan.aroundMs })),
    { fromMs: atMs - clockSpan.beforeMs, toMs: atMs + 1 },
  ]);
  const read = async (span: TimeSpan) => samples.filter((block) => touches(block, span));
  const inquired = inquireRecorded(machine, derates, samples);
  const handover: HandoverInput = {
    ...asked,
    machineId: machine.machineId,
    profile: machine.profile,
    period,
    thresholdSet: input.thresholds.version,
    observed: machine.summary?.observed ?? null,
    faults,
    notes: [],
    fleetTable: [],
    derates: inquired,
    clocks: await inducementClocks({ faults, fleetTable: [], atMs }, read),
    findings: machine.findings.filter(({ startedMs }) => startedMs >= period.fromMs && startedMs < period.toMs),
    rows: machine.rows.filter(({ startedMs }) => startedMs >= period.fromMs && startedMs < period.toMs),
    engineHours: hoursWithin(machine, period),
    service: null,
    limits: limitsOf(machine, period),
  };
  return { document: await buildHandover(handover, read), damage: machine.damage };
}

function limitsOf({ damage }: RecordedMachine, period: TimeSpan): string[] {
  return [
    ...(damage === null ? [] : ['A recording is cut short or damaged: what comes after that is missing.']),
    ...(period.fromMs >= plausibleTimesMs.from
      ? []
      : ['The recordings say no date: their times count from 1970-01-01 00:00 UTC, or from what --start named.']),
  ];
}

/** What was asked for; where nothing was, all that the recordings cover. */
function periodOf({ summary, faults }: RecordedMachine, { period }: HandoverAsked): TimeSpan {
  const times = faults.flatMap(({ startedMs, lastSeenMs }) => [startedMs, lastSeenMs]);
  const firstMs = Math.min(summary?.observed.fromMs ?? Number.POSITIVE_INFINITY, ...times);
  const lastMs = Math.max(summary?.observed.toMs ?? Number.NEGATIVE_INFINITY, ...times);
  const whole =
    Number.isFinite(firstMs) && Number.isFinite(lastMs)
      ? { fromMs: firstMs, toMs: lastMs + 1 }
      : { fromMs: 0, toMs: 1 };
  return { fromMs: period.fromMs ?? whole.fromMs, toMs: period.toMs ?? whole.toMs };
}

function hoursWithin({ hours }: RecordedMachine, { fromMs, toMs }: TimeSpan) {
  const within = hours.filter(({ timeMs }) => timeMs >= fromMs && timeMs < toMs);
  return { from: within[0]?.engineHours ?? null, to: within.at(-1)?.engineHours ?? null };
}

function touches({ timeMs }: SampleBlock, { fromMs, toMs }: TimeSpan): boolean {
  return (timeMs[0] as number) < toMs && (timeMs[timeMs.length - 1] as number) >= fromMs;
}

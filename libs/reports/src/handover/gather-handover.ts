/** Gathers what a handover sheet needs from wherever machines are kept. */

import type {
  DerateEpisode,
  FaultEpisode,
  FaultNotice,
  Finding,
  FleetFaultTable,
  InquiryRevision,
  MachineSummary,
  ResidencyRow,
  TimeSpan,
} from '@warmbrick/analysis';
import { type HandoverDocument, type ServiceDone, toInstant } from '@warmbrick/contracts';
import type { ChannelName, MachineProfile, SampleBlock } from '@warmbrick/signals';
import { buildHandover } from './build-handover.js';
import type { InquiredDerate } from './handover-input.js';
import { inducementClocks, lastValue } from './inducement-clocks.js';
import { neutralLabel } from './mask-texts.js';

interface Page<T> {
  readonly items: readonly T[];
  readonly nextCursor: string | null;
}

interface MachineRange {
  readonly machineId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

interface ListAsk {
  readonly machineId: string;
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
}

interface ServiceRecord {
  readonly item: string;
  readonly atMs: number;
  readonly engineHours: number | null;
  readonly note: string;
  readonly recordedBy: string;
}

/** Where a machine is kept; a store is one. */
export interface HandoverSource {
  loadProfile(machineId: string): Promise<MachineProfile | null>;
  getMachine(machineId: string): Promise<{ readonly summary: MachineSummary; readonly thresholdSet: string } | null>;
  listFaultEpisodes(range: MachineRange): Promise<readonly FaultEpisode[]>;
  listFaultEntries(
    range: MachineRange,
  ): Promise<readonly { readonly notice: FaultNotice; readonly note: string | null; readonly typedBy: string }[]>;
  machineFaultTexts(machineId: string): Promise<FleetFaultTable>;
  listDerates(page: ListAsk): Promise<Page<{ readonly derate: DerateEpisode }>>;
  listInquiries(derateId: string): Promise<readonly InquiryRevision[]>;
  listFindings(page: ListAsk): Promise<Page<Finding>>;
  listRows(
    machineIds: readonly string[],
    fromMs: number,
    toMs: number,
  ): Promise<ReadonlyMap<string, readonly ResidencyRow[]>>;
  readSamples(range: MachineRange & { readonly channels?: readonly ChannelName[] }): Promise<readonly SampleBlock[]>;
  /** Work that was recorded, in any order. */
  listServiceRecords(machineId: string): Promise<readonly ServiceRecord[]>;
  /** Secret that neutral labels are made with; the same as long as the store lives. */
  maskKey(): Promise<string>;
}

export interface HandoverAsk {
  readonly machineId: string;
  readonly period: TimeSpan;
  readonly isMasked: boolean;
  readonly madeAtMs: number;
  readonly software: string;
}

/** Findings of one sheet at most. Source: engineering judgement: a year of a busy machine. */
const mostFindings = 20_000;
const pageItems = 1000;
const hourMs = 3_600_000;
/** How far into the period the hour counter is looked for at both ends, ms. Source: engineering judgement: two weeks of standing. */
const hoursReachesMs = [hourMs, 12 * hourMs, 14 * 24 * hourMs] as const;

/** The sheet of one machine; null for a machine of which nothing is kept. Errors: those of the source. */
export async function gatherHandover(source: HandoverSource, ask: HandoverAsk): Promise<HandoverDocument | null> {
  const { machineId, period } = ask;
  const [profile, machine] = await Promise.all([source.loadProfile(machineId), source.getMachine(machineId)]);
  if (profile === null) return null;
  const everything = { machineId, fromMs: 0, toMs: period.toMs };
  const [faults, entries, fleetTable] = await Promise.all([
    source.listFaultEpisodes(everything),
    source.listFaultEntries(everything),
    source.machineFaultTexts(machineId),
  ]);
  const read = (span: TimeSpan) =>
    source.readSamples({ machineId, fromMs: Math.floor(span.fromMs), toMs: Math.ceil(span.toMs) });
  const findings = await allFindings(source, ask);
  const observed = machine?.summary.observed ?? null;
  const atMs = Math.min(period.toMs, observed?.toMs ?? period.toMs);
  return buildHandover(
    {
      ...ask,
      profile,
      thresholdSet: machine?.thresholdSet ?? 'none yet',
      maskLabel: ask.isMasked ? neutralLabel(machineId, await source.maskKey()) : null,
      observed,
      faults,
      notes: entries.flatMap(({ notice, note, typedBy }) =>
        note === null ? [] : [{ atMs: notice.timeMs, spn: notice.spn, fmi: notice.fmi, typedBy, note }],
      ),
      fleetTable,
      derates: await inquiredDerates(source, ask),
      clocks: await inducementClocks({ faults, fleetTable, atMs }, read),
      findings,
      rows: (await source.listRows([machineId], period.fromMs, period.toMs)).get(machineId) ?? [],
      engineHours: await hoursOf(source, ask, { firstMs: observed?.fromMs ?? period.fromMs, lastMs: atMs }),
      service: await serviceDone(source, ask),
      limits:
        findings.length < mostFindings ? [] : [`Only the newest ${mostFindings} findings of the period were counted.`],
    },
    read,
  );
}

/**
 * Where a sheet ends when nobody said: after the last sample, or after work that was done since.
 *
 * Units: UTC epoch ms. Missing: now, for a machine without samples and work.
 */
export async function handoverEndMs(
  source: Pick<HandoverSource, 'listServiceRecords'>,
  machine: { readonly machineId: string; readonly lastSampleMs: number | null },
  nowMs: number,
): Promise<number> {
  const records = await source.listServiceRecords(machine.machineId);
  const done = records.map(({ atMs }) => atMs).filter((atMs) => atMs <= nowMs);
  const known = machine.lastSampleMs === null ? done : [machine.lastSampleMs, ...done];
  return known.length === 0 ? nowMs : Math.max(...known) + 1;
}

async function serviceDone(source: HandoverSource, { machineId, period }: HandoverAsk): Promise<ServiceDone[]> {
  const records = await source.listServiceRecords(machineId);
  return records
    .filter(({ atMs }) => atMs >= period.fromMs && atMs < period.toMs)
    .sort((a, b) => a.atMs - b.atMs || (a.item < b.item ? -1 : 1))
    .map(({ atMs, item, engineHours, recordedBy, note }) => ({
      at: toInstant(atMs),
      what: item.replaceAll('-', ' '),
      engineHours,
      by: recordedBy,
      note: note === '' ? null : note,
    }));
}

async function allFindings(source: HandoverSource, { machineId, period }: HandoverAsk): Promise<Finding[]> {
  const findings: Finding[] = [];
  for (let cursor: string | null | undefined; cursor !== null && findings.length < mostFindings; ) {
    const page: Page<Finding> = await source.listFindings({ machineId, ...period, limit: pageItems, cursor });
    findings.push(...page.items);
    cursor = page.nextCursor;
  }
  return findings;
}

async function inquiredDerates(source: HandoverSource, { machineId, period }: HandoverAsk): Promise<InquiredDerate[]> {
  const { items } = await source.listDerates({ machineId, ...period, limit: pageItems });
  const derates: InquiredDerate[] = [];
  for (const { derate } of items) derates.push({ derate, history: await source.listInquiries(derate.id) });
  return derates;
}

/** The counter at both ends of what was seen of the period, each from the nearest reading; looked for farther and farther. */
async function hoursOf(
  source: HandoverSource,
  { machineId, period }: HandoverAsk,
  { firstMs, lastMs }: { readonly firstMs: number; readonly lastMs: number },
): Promise<{ from: number | null; to: number | null }> {
  const read = (fromMs: number, toMs: number) =>
    source.readSamples({ machineId, fromMs: Math.floor(fromMs), toMs: Math.ceil(toMs), channels: ['engineHours'] });
  const startMs = Math.max(period.fromMs, firstMs);
  let from: number | null = null;
  let to: number | null = null;
  for (const reachMs of hoursReachesMs) {
    from ??= firstValue(await read(startMs, Math.min(startMs + reachMs, lastMs + 1)), 'engineHours');
    to ??= lastValue(await read(Math.max(startMs, lastMs - reachMs), lastMs + 1), 'engineHours', lastMs);
  }
  return { from, to };
}

function firstValue(blocks: readonly SampleBlock[], channel: ChannelName): number | null {
  for (const { channels } of blocks) {
    const found = channels[channel]?.find((value) => !Number.isNaN(value));
    if (found !== undefined) return found;
  }
  return null;
}

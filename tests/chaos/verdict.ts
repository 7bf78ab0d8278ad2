/** Compares what is stored and what was sent out with an undisturbed replay of the same samples. */

import { builtInThresholds, createAnalyzer, type Finding, type ResidencyRow } from '@warmbrick/analysis';
import { toFindingDocument } from '@warmbrick/contracts';
import { newsIdHeader } from '@warmbrick/ingest';
import { blockChannels, defaultProfile, type SampleBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { allFindings } from '../integration/ingest-world.js';
import { judgeAlerts } from './alert-verdict.js';
import type { Traffic } from './traffic.js';

export interface Verdict {
  /** Samples sent, each counted once. */
  readonly sent: number;
  /** Samples and fault reports that are not stored as they were sent. */
  readonly missing: number;
  /** Samples and fault reports stored more than once. */
  readonly doubled: number;
  /** Findings, residency rows and summaries are those of the replay. */
  readonly findingsEqual: boolean;
  /** Findings of which the last news never arrived, and alerts that are missing or wrong. */
  readonly alertsLost: number;
  /** Messages of the same id that say different things; alerts and steps of alerts that came twice. */
  readonly alertsRepeated: number;
  /** Alerts that were judged: a run without any says nothing about them. */
  readonly alerts: number;
  readonly differences: readonly string[];
}

/** One message of the findings topic. */
export interface DeliveredNews {
  readonly newsId: string;
  readonly revision: number;
  readonly findingId: string;
  readonly value: string;
}

const comparable = (finding: Finding) => JSON.stringify({ ...finding, emittedMs: null });

interface Judging {
  readonly store: Store;
  readonly databaseUrl: string;
  readonly traffic: Traffic;
  readonly news: readonly DeliveredNews[];
}

/** Judges a run after it has drained. */
export async function judge({ store, databaseUrl, traffic, news }: Judging): Promise<Verdict> {
  const differences: string[] = [];
  const wantedFindings = new Map<string, Finding>();
  const wantedByMachine = new Map<string, readonly Finding[]>();
  let [sent, missing, doubled] = [0, 0, 0];
  for (const [machineId, block] of traffic.blocks) {
    sent += block.timeMs.length;
    const samples = await compareSamples(store, block);
    missing += samples.missing;
    doubled += samples.doubled;
    const wanted = replay(block);
    wantedByMachine.set(machineId, wanted.findings);
    for (const finding of wanted.findings) wantedFindings.set(finding.id, finding);
    differences.push(...(await compareAnswers(store, machineId, wanted)));
    const faults = await compareFaults(store, traffic, machineId);
    missing += faults.missing;
    doubled += faults.doubled;
  }
  const findingsEqual = differences.length === 0;
  const alerts = await judgeAlerts(databaseUrl, wantedByMachine);
  differences.push(...alerts.differences);
  return {
    sent,
    missing,
    doubled,
    findingsEqual,
    alertsLost: countLost(wantedFindings, news) + alerts.lost,
    alertsRepeated: countRepeated(news) + alerts.repeated,
    alerts: alerts.alerts,
    differences,
  };
}

interface Answer {
  readonly findings: readonly Finding[];
  readonly rows: readonly ResidencyRow[];
  readonly summary: unknown;
}

function replay(block: SampleBlock): Answer {
  const { machineId } = block;
  const analyzer = createAnalyzer({ machineId, profile: defaultProfile, thresholds: builtInThresholds });
  const { findings, rows } = analyzer.push(block);
  return {
    findings: [...new Map(findings.map((finding) => [finding.id, finding])).values()],
    rows: [...new Map(rows.map((row) => [row.startedMs, row])).values()],
    summary: analyzer.summary(),
  };
}

async function compareAnswers(store: Store, machineId: string, wanted: Answer): Promise<string[]> {
  const stored = (await allFindings(store, machineId)).map(comparable).sort();
  const rows = (await store.listRows([machineId], 0, 1e14)).get(machineId) ?? [];
  const summary = (await store.getMachine(machineId))?.summary;
  const wantedRows = [...wanted.rows].sort((a, b) => a.startedMs - b.startedMs);
  const differences: string[] = [];
  const compare = (what: string, found: unknown, expected: unknown) => {
    const [a, b] = [JSON.stringify(found), JSON.stringify(expected)];
    if (a !== b) differences.push(`${machineId}, ${what}: ${a?.slice(0, 400)} instead of ${b?.slice(0, 400)}`);
  };
  compare('findings', stored, wanted.findings.map(comparable).sort());
  compare('rows', rows, wantedRows);
  compare('summary', summary, wanted.summary);
  return differences;
}

async function compareSamples(store: Store, block: SampleBlock): Promise<{ missing: number; doubled: number }> {
  const stored = await store.readSamples({ machineId: block.machineId, fromMs: 0, toMs: 1e14 });
  const names = blockChannels(block);
  const textAt = (from: SampleBlock, i: number) => names.map((name) => from.channels[name]?.[i]).join();
  const byTime = new Map<number, string>();
  let doubled = 0;
  for (const part of stored) {
    for (let i = 0; i < part.timeMs.length; i++) {
      const timeMs = part.timeMs[i] as number;
      if (byTime.has(timeMs)) doubled++;
      byTime.set(timeMs, textAt(part, i));
    }
  }
  let missing = 0;
  for (let i = 0; i < block.timeMs.length; i++) {
    if (byTime.get(block.timeMs[i] as number) !== textAt(block, i)) missing++;
  }
  return { missing, doubled: doubled + Math.max(0, byTime.size - block.timeMs.length) };
}

async function compareFaults(store: Store, { faults }: Traffic, machineId: string) {
  const { items } = await store.listFaults({ machineId, limit: 500 });
  const stored = items.map((report) => report.timeMs);
  const wanted = faults.filter((report) => report.machineId === machineId).map((report) => report.timeMs);
  const missing = wanted.filter((timeMs) => !stored.includes(timeMs)).length;
  return { missing, doubled: stored.length - new Set(stored).size };
}

/** The news of the highest revision is what a receiver ends up believing. */
function countLost(wanted: ReadonlyMap<string, Finding>, news: readonly DeliveredNews[]): number {
  const last = new Map<string, DeliveredNews>();
  for (const one of news) if (one.revision >= (last.get(one.findingId)?.revision ?? 0)) last.set(one.findingId, one);
  let lost = 0;
  for (const [id, finding] of wanted) {
    const expected = { type: 'made', machineId: finding.machineId, finding: toFindingDocument(finding) };
    if (last.get(id)?.value !== JSON.stringify(expected)) lost++;
  }
  for (const [id, { value }] of last) {
    if (!wanted.has(id) && (JSON.parse(value) as { type: string }).type !== 'withdrawn') lost++;
  }
  return lost;
}

function countRepeated(news: readonly DeliveredNews[]): number {
  const first = new Map<string, string>();
  let repeated = 0;
  for (const { newsId, value } of news) {
    if (first.has(newsId) && first.get(newsId) !== value) repeated++;
    first.set(newsId, first.get(newsId) ?? value);
  }
  return repeated;
}

/** Reads a message of the findings topic. */
export function readNews(value: Buffer | null, headers: Readonly<Record<string, unknown>>): DeliveredNews {
  const text = String(value);
  const message = JSON.parse(text) as { finding?: { id: string }; findingId?: string };
  return {
    newsId: String(headers[newsIdHeader]),
    revision: Number(String(headers.revision)),
    findingId: message.finding?.id ?? message.findingId ?? '',
    value: text,
  };
}

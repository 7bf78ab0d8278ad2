/** One round through a provider: the snapshot of its fleet, then the faults of each machine. */

import { OperatingError } from '@warmbrick/runtime';
import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import type { Intake, IntakeOrigin } from '../intake.js';
import { createRejectList, type IntakeReject, type RejectList } from '../messages/reject-list.js';
import type { FeedClient, FeedClock, Validators } from './feed-client.js';
import { nextPage } from './feed-links.js';
import type { FeedProvider } from './feed-settings.js';
import { type FeedNode, readFeedTree } from './feed-tree.js';
import { readFeedFaults } from './read-feed-faults.js';
import { type FeedMachine, readFleet } from './read-fleet.js';

/** What is remembered from round to round; all of it may be forgotten at no more cost than asking again. */
export interface FeedMemory {
  /** Pages of the snapshot that are safe, by address. */
  readonly pages: Map<string, KnownPage>;
  /** Until when the faults of a machine are safe, UTC epoch ms. */
  readonly faultsUntilMs: Map<string, number>;
}

interface KnownPage {
  readonly validators: Validators;
  readonly machines: readonly FeedMachine[];
  readonly nextUrl: string | null;
}

export interface FeedRound {
  readonly pages: number;
  readonly unchangedPages: number;
  readonly machines: number;
  readonly samples: number;
  readonly faultReports: number;
  readonly rejected: number;
  readonly rejects: readonly IntakeReject[];
  /** What ended the round, or a part of it, early; empty when all went well. */
  readonly failures: readonly string[];
}

export interface RoundOptions {
  readonly provider: FeedProvider;
  readonly client: FeedClient;
  readonly intake: Intake;
  readonly clock: FeedClock;
  readonly memory: FeedMemory;
  readonly signal: AbortSignal;
  /** Does a job until it works. Errors: the last one, after the signal. */
  readonly untilItWorks: (job: () => Promise<void>) => Promise<void>;
}

interface Round extends RoundOptions {
  readonly origin: IntakeOrigin;
  readonly rejects: RejectList;
  readonly failures: string[];
  readonly counts: { pages: number; unchangedPages: number; samples: number; faultReports: number };
}

/** Pages and machines remembered, and machines of one round. Source: engineering judgement. */
const mostRemembered = 20_000;
const hourMs = 3_600_000;
/** Words of addresses that are the standard's and not a machine's. */
const fixedWords: ReadonlySet<string> = new Set(['Fleet', 'Equipment', 'ID', 'MakeModelSerial', 'Faults']);
/** Failures told of one round. */
const failuresTold = 20;

/** Runs a round. Errors: those of the intake that a retry does not mend. */
export async function runRound(options: RoundOptions): Promise<FeedRound> {
  const round: Round = {
    ...options,
    origin: { way: 'standard-feed', name: options.provider.name },
    rejects: createRejectList(),
    failures: [],
    counts: { pages: 0, unchangedPages: 0, samples: 0, faultReports: 0 },
  };
  const machines = await readSnapshot(round);
  if (round.provider.faultsBy !== null) {
    for (const machine of machines) {
      if (round.signal.aborted) break;
      await readFaults(round, machine);
    }
  }
  const { rejects, counts, failures } = round;
  return { ...counts, machines: machines.length, rejected: rejects.total(), rejects: rejects.listed(), failures };
}

async function readSnapshot(round: Round): Promise<readonly FeedMachine[]> {
  const { memory, client } = round;
  const machines = new Map<string, FeedMachine>();
  let url: string | null = addressOf(round.provider, ['Fleet', '1']);
  for (const seen = new Set<string>(); url !== null && !round.signal.aborted; ) {
    if (!mayGoOn(round, seen, url)) break;
    const known: KnownPage | undefined = memory.pages.get(url);
    const answer = await client.get(url, known?.validators ?? null);
    round.counts.pages++;
    if (answer.form === 'failed') {
      fail(round, url, answer.detail);
      break;
    }
    let page = known;
    if (answer.form === 'unchanged') round.counts.unchangedPages++;
    else page = await takeSnapshotPage(round, url, answer);
    if (page === undefined) {
      fail(round, url, 'the page cannot be read');
      break;
    }
    for (const machine of page.machines) if (machines.size < mostRemembered) machines.set(machine.machineId, machine);
    url = page.nextUrl;
  }
  return [...machines.values()];
}

async function takeSnapshotPage(
  round: Round,
  url: string,
  answer: { readonly body: Uint8Array; readonly validators: Validators },
): Promise<KnownPage | undefined> {
  const { provider, clock, rejects, memory, intake, origin } = round;
  const root = readRoot(round, url, answer.body);
  if (root === undefined) return undefined;
  const { machines, blocks } = readFleet(root, { provider, nowMs: clock.now(), rejects });
  const isSafe = await hold(round, url, () => intake.samples(blocks, origin));
  if (isSafe) round.counts.samples += countSamples(blocks);
  const page = { validators: answer.validators, machines, nextUrl: nextUrlOf(round, root, url) };
  // Only now that it is safe: otherwise "not modified" would hide what was never taken.
  const hasValidator = answer.validators.etag !== null || answer.validators.lastModified !== null;
  if (isSafe && hasValidator) remember(memory.pages, url, page);
  return page;
}

async function readFaults(round: Round, machine: FeedMachine): Promise<void> {
  const { provider, clock, memory, intake, origin, client } = round;
  const path = machinePath(provider, machine);
  if (path === null) return;
  const untilMs = clock.now();
  const { machineId } = machine;
  const safeMs = memory.faultsUntilMs.get(machineId) ?? untilMs - provider.lookBackH * hourMs;
  const fromMs = memory.faultsUntilMs.has(machineId) ? safeMs - provider.overlapH * hourMs : safeMs;
  let url: string | null = addressOf(provider, [...path, 'Faults', toSeconds(fromMs), toSeconds(untilMs), '1']);
  for (const seen = new Set<string>(); url !== null; ) {
    if (!mayGoOn(round, seen, url)) return;
    const answer = await client.get(url, null);
    round.counts.pages++;
    if (answer.form !== 'page') return fail(round, url, answer.form === 'failed' ? answer.detail : 'unchanged');
    const root = readRoot(round, url, answer.body);
    if (root === undefined) return;
    const { sourceAddress } = provider;
    const reports: FaultReport[] = readFeedFaults(root, {
      machineId,
      sourceAddress,
      nowMs: untilMs,
      rejects: round.rejects,
    });
    if (!(await hold(round, url, () => intake.faults(reports, origin)))) return;
    round.counts.faultReports += reports.length;
    url = nextUrlOf(round, root, url);
  }
  remember(memory.faultsUntilMs, machineId, untilMs);
}

/** Whether the intake has it; false when it never will, which must not stop the rest of the round. */
async function hold(round: Round, url: string, job: () => Promise<void>): Promise<boolean> {
  try {
    await round.untilItWorks(job);
    return true;
  } catch (error) {
    const isClosing = error instanceof OperatingError && (error.isRetriable || error.code === 'ingest-closed');
    if (isClosing || round.signal.aborted) throw error;
    const detail = error instanceof OperatingError ? error.message : 'it cannot be worked';
    round.rejects.add({ reason: 'refused', where: pathOf(url), detail });
    fail(round, url, `the pipeline refuses it: ${detail}`);
    return false;
  }
}

/** Whether a page may be asked for: no page twice in a row of links, and no more of them than the bound. */
function mayGoOn(round: Round, seen: Set<string>, url: string): boolean {
  if (seen.has(url)) fail(round, url, 'the link "next" leads in a circle');
  else if (seen.size >= round.provider.pages) fail(round, url, `more than ${round.provider.pages} pages`);
  else {
    seen.add(url);
    return true;
  }
  return false;
}

function readRoot(round: Round, url: string, body: Uint8Array): FeedNode | undefined {
  const tree = readFeedTree(body);
  if (tree.form === 'tree') return tree.root;
  round.rejects.add({ reason: 'bad-shape', where: pathOf(url), detail: tree.detail });
  fail(round, url, tree.detail);
  return undefined;
}

function nextUrlOf(round: Round, root: FeedNode, url: string): string | null {
  const next = nextPage(root, url);
  if (next.form === 'elsewhere') fail(round, url, `its link "next" leads to another host (${next.url})`);
  return next.form === 'next' ? next.url : null;
}

/** Source of the addresses: ISO/TS 15143-3, 8.2 and 8.3, as public client programs use them; the form by ID from memory. */
function machinePath(provider: FeedProvider, machine: FeedMachine): readonly string[] | null {
  const { equipmentId, make, model, serialNumber } = machine;
  if (provider.faultsBy === 'id') return equipmentId === null ? null : ['Fleet', 'Equipment', 'ID', equipmentId];
  if (make === null || model === null || serialNumber === null) return null;
  return ['Fleet', 'Equipment', 'MakeModelSerial', make, model, serialNumber];
}

function addressOf(provider: FeedProvider, path: readonly string[]): string {
  const words = path.map((word) => (provider.lowerCasePaths && fixedWords.has(word) ? word.toLowerCase() : word));
  return `${provider.baseUrl.replace(/\/+$/, '')}/${words.map(encodeURIComponent).join('/')}`;
}

function toSeconds(atMs: number): string {
  return `${new Date(atMs).toISOString().slice(0, 19)}Z`;
}

function pathOf(url: string): string {
  return new URL(url).pathname;
}

function fail(round: Round, url: string, detail: string): void {
  if (round.failures.length < failuresTold) round.failures.push(`${pathOf(url)}: ${detail}`);
}

function countSamples(blocks: readonly SampleBlock[]): number {
  return blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
}

function remember<T>(memory: Map<string, T>, key: string, value: T): void {
  memory.delete(key);
  memory.set(key, value);
  if (memory.size > mostRemembered) memory.delete(memory.keys().next().value as string);
}

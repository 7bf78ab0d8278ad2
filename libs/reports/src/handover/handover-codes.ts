/** The codes of a sheet: every one that ever occurred, with its times in the period and the signals around them. */

import { describeFault, type FaultEpisode, faultKey, type TimeSpan } from '@warmbrick/analysis';
import {
  type HandoverCode,
  type SignalWindowDocument,
  toEpisodeDocument,
  toFaultLine,
  toInstant,
} from '@warmbrick/contracts';
import type { HandoverInput, ReadWindow } from './handover-input.js';
import { signalWindow, windowSpan } from './signal-window.js';

/** Times of one code on a sheet; the newest stay. Source: engineering judgement: a page holds them. */
const mostTimes = 60;
/** Windows of one sheet; codes that occurred first get theirs first. Source: engineering judgement, about 20 pages. */
const mostWindows = 80;

export interface CodeGroup {
  readonly number: string;
  /** Newest first. */
  readonly episodes: readonly FaultEpisode[];
  readonly inPeriod: readonly FaultEpisode[];
}

/** Codes in the order in which they first occurred, numbered. */
export function groupCodes(faults: readonly FaultEpisode[], period: TimeSpan): CodeGroup[] {
  const byKey = new Map<string, FaultEpisode[]>();
  for (const fault of faults) {
    const key = faultKey(fault);
    const known = byKey.get(key);
    if (known === undefined) byKey.set(key, [fault]);
    else known.push(fault);
  }
  const groups = [...byKey].map(([key, episodes]) => ({
    key,
    episodes: episodes.sort((a, b) => b.startedMs - a.startedMs || (a.id < b.id ? -1 : 1)),
  }));
  const firstOf = ({ episodes }: { episodes: readonly FaultEpisode[] }) => episodes.at(-1)?.startedMs ?? 0;
  groups.sort((a, b) => firstOf(a) - firstOf(b) || (a.key < b.key ? -1 : 1));
  return groups.map(({ episodes }, at) => ({
    number: `C${at + 1}`,
    episodes,
    inPeriod: episodes.filter((episode) => reachesInto(episode, period)),
  }));
}

function reachesInto({ startedMs, endedMs, lastSeenMs }: FaultEpisode, { fromMs, toMs }: TimeSpan): boolean {
  return startedMs < toMs && (endedMs === null || endedMs >= fromMs || lastSeenMs >= fromMs);
}

/** Moments around which a sheet shows signals: the first and the last beginning of each code in the period. */
export function windowMoments(groups: readonly CodeGroup[], period: TimeSpan): ReadonlyMap<string, readonly number[]> {
  const moments = new Map<string, readonly number[]>();
  let left = mostWindows;
  for (const { number, inPeriod } of groups) {
    const starts = inPeriod
      .filter(({ startedMs, isPreviouslyActiveOnly }) => !isPreviouslyActiveOnly && startedMs >= period.fromMs)
      .map(({ startedMs }) => startedMs);
    const wanted = starts.length > 1 ? [starts.at(-1) as number, starts[0] as number] : starts;
    moments.set(number, wanted.slice(0, left));
    left = Math.max(0, left - wanted.length);
  }
  return moments;
}

/** The codes as the sheet has them. */
export async function handoverCodes(
  input: HandoverInput,
  groups: readonly CodeGroup[],
  read: ReadWindow,
): Promise<HandoverCode[]> {
  const moments = windowMoments(groups, input.period);
  const codes: HandoverCode[] = [];
  for (const group of groups) {
    const windows = await windowsOf(group, { input, read, atMs: moments.get(group.number) ?? [] });
    codes.push(handoverCode(group, input, windows));
  }
  return codes;
}

async function windowsOf(
  { episodes }: CodeGroup,
  { input, read, atMs }: { input: HandoverInput; read: ReadWindow; atMs: readonly number[] },
): Promise<SignalWindowDocument[]> {
  const { spn, fmi } = episodes[0] as FaultEpisode;
  const own = describeFault(spn, fmi, input.fleetTable).known?.channel ?? null;
  const windows: SignalWindowDocument[] = [];
  for (const moment of atMs) {
    const window = signalWindow(await read(windowSpan(moment)), moment, own);
    if (window !== null) windows.push(window);
  }
  return windows;
}

function handoverCode(group: CodeGroup, input: HandoverInput, windows: SignalWindowDocument[]): HandoverCode {
  const { number, episodes, inPeriod } = group;
  const newest = episodes[0] as FaultEpisode;
  const parts = {
    code: number,
    occurrences: episodes.length,
    firstMs: Math.min(...episodes.map(({ startedMs }) => startedMs)),
    lastSeenMs: Math.max(...episodes.map(({ lastSeenMs }) => lastSeenMs)),
    isActive: episodes.some(({ endedMs }) => endedMs === null),
    episodes: [newest],
  };
  const { code: _code, episodes: _episodes, ...line } = toFaultLine(parts, input.fleetTable);
  const times = inPeriod.slice(0, mostTimes).map((episode) => {
    const { id: _id, ...time } = toEpisodeDocument(episode);
    return time;
  });
  // What people typed may say whose machine it is in words that no list knows.
  const notes =
    input.maskLabel !== null ? [] : input.notes.filter(({ spn, fmi }) => spn === newest.spn && fmi === newest.fmi);
  return {
    ...line,
    number,
    occurrencesInPeriod: inPeriod.length,
    times,
    notes: notes.map(({ atMs, typedBy, note }) => ({ at: toInstant(atMs), typedBy, note })),
    windows,
  };
}

/** The derates of a sheet, with where they came from and what speaks for and against it. */

import type { FaultEpisode } from '@warmbrick/analysis';
import { type HandoverDerate, toDerateDocument, toInquiryDocument, toRevisionDocument } from '@warmbrick/contracts';
import type { CodeGroup } from './handover-codes.js';
import type { HandoverInput, InquiredDerate, ReadWindow } from './handover-input.js';
import { signalWindow, windowSpan } from './signal-window.js';

/** Derates on a sheet; the newest stay. Source: engineering judgement. */
export const mostDerates = 30;

/** The derates in order of time, numbered. */
export async function handoverDerates(
  input: HandoverInput,
  groups: readonly CodeGroup[],
  read: ReadWindow,
): Promise<HandoverDerate[]> {
  const numbers = new Map(groups.flatMap(({ number, episodes }) => episodes.map(({ id }) => [id, number] as const)));
  const inOrder = [...input.derates].sort((a, b) => a.derate.startedMs - b.derate.startedMs).slice(-mostDerates);
  const derates: HandoverDerate[] = [];
  for (const [at, one] of inOrder.entries()) {
    const { startedMs } = one.derate;
    const window = signalWindow(await read(windowSpan(startedMs)), startedMs);
    derates.push({ ...derateOf(one, input, numbers), number: `D${at + 1}`, window });
  }
  return derates;
}

function derateOf(
  { derate, history }: InquiredDerate,
  { faults, fleetTable }: HandoverInput,
  numbers: ReadonlyMap<string, string>,
): Omit<HandoverDerate, 'number' | 'window'> {
  const { id: _id, machineId: _machineId, ...document } = toDerateDocument(derate);
  const latest = history.at(-1);
  return {
    ...document,
    inquiry: latest === undefined ? null : inquiryOf(toInquiryDocument(latest.inquiry, faults, fleetTable), numbers),
    history: history.map(toRevisionDocument),
  };
}

function inquiryOf(
  { origins, ...rest }: ReturnType<typeof toInquiryDocument>,
  numbers: ReadonlyMap<FaultEpisode['id'], string>,
): NonNullable<HandoverDerate['inquiry']> {
  return {
    ...rest,
    origins: origins.map(({ faultId, ...origin }) => ({ ...origin, code: numbers.get(faultId) ?? null })),
  };
}

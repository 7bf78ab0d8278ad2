/** A page of the time series of faults of ISO 15143-3 -> fault reports. */

import type { FaultCode, FaultReport } from '@warmbrick/signals';
import type { RejectList } from '../messages/reject-list.js';
import { feedTimeMs } from './feed-time.js';
import { type FeedNode, findAll, textOf } from './feed-tree.js';

/** Largest SPN, 19 bits; largest FMI, 5 bits. Source: SAE J1939-73, DM1. */
const largestSpn = 0x7ffff;
const largestFmi = 31;
const named = /\bSPN\D{0,4}(\d{1,6})\D{1,12}\bFMI\D{0,4}(\d{1,2})(?!\d)/i;
const plain = /^(\d{1,6})\s*[-./:]\s*(\d{1,2})$/;
const noLamps = {
  malfunction: 'unavailable',
  redStop: 'unavailable',
  amberWarning: 'unavailable',
  protect: 'unavailable',
} as const;
/** Flash byte of a controller that does not flash. Source: SAE J1939-73, DM1. */
const noFlash = 255;

/** SPN and FMI of a text such as "SPN 3216 FMI 4" or "3216-4"; null when it names none. */
function parseCodeText(text: string): { readonly spn: number; readonly fmi: number } | null {
  const found = named.exec(text) ?? plain.exec(text.trim());
  if (found === null) return null;
  const spn = Number(found[1]);
  const fmi = Number(found[2]);
  return spn > 0 && spn <= largestSpn && fmi <= largestFmi ? { spn, fmi } : null;
}

/**
 * Reads a page: one report for each time and controller, with the codes of that moment.
 *
 * The series tells when a code was raised, not when it went; lamps and counts are not said.
 * Errors: none; a code without SPN and FMI is a reject that keeps its text.
 * Source: element names FaultCode, CodeIdentifier, CodeDescription, CodeSeverity, CodeSource: ISO/TS 15143-3, from memory.
 */
export function readFeedFaults(
  root: FeedNode,
  from: { machineId: string; sourceAddress: number; nowMs: number; rejects: RejectList },
): FaultReport[] {
  const { machineId, rejects } = from;
  const moments = new Map<string, { timeMs: number; sourceAddress: number; codes: Map<string, FaultCode> }>();
  for (const node of findAll(root, 'FaultCode')) {
    const text = textOf(node, 'CodeIdentifier') ?? '';
    const description = textOf(node, 'CodeDescription');
    const code = parseCodeText(text) ?? parseCodeText(description ?? '');
    const timeMs = feedTimeMs(node, from.nowMs);
    const where = `${machineId}, FaultCode`;
    if (Number.isNaN(timeMs)) {
      rejects.add({ reason: 'bad-time', where, detail: `datetime "${(textOf(node, 'datetime') ?? '').slice(0, 40)}"` });
    } else if (code === null) {
      const detail = description === null ? `"${text}"` : `"${text}": ${description}`;
      rejects.add({ reason: 'unknown-fault-code', where, detail });
    } else {
      const sourceAddress = addressOf(textOf(node, 'CodeSource')) ?? from.sourceAddress;
      const key = `${sourceAddress} ${timeMs}`;
      const moment = moments.get(key) ?? { timeMs, sourceAddress, codes: new Map() };
      moments.set(key, moment);
      moment.codes.set(`${code.spn} ${code.fmi}`, { ...code, occurrenceCount: null, conversionMethod: 0 });
    }
  }
  return [...moments.values()]
    .sort((a, b) => a.timeMs - b.timeMs || a.sourceAddress - b.sourceAddress)
    .map(({ timeMs, sourceAddress, codes }) => ({
      machineId,
      timeMs,
      sourceAddress,
      kind: 'active',
      lamps: noLamps,
      flash: noFlash,
      codes: [...codes.values()].sort((a, b) => a.spn - b.spn || a.fmi - b.fmi),
      isPartial: true,
    }));
}

function addressOf(text: string | null): number | null {
  const address = text !== null && /^\d{1,3}$/.test(text) ? Number(text) : Number.NaN;
  return address <= 253 ? address : null;
}

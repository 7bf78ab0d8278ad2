/** Messages of the faults topic -> fault reports. */

import type { FaultReport } from '@warmbrick/signals';
import { openMessage, type RejectedMessage, readMessageTime, reject } from './message-checks.js';
import { faultMessageSchema } from './topics.js';

export interface DecodedFaults {
  readonly form: 'faults';
  readonly report: FaultReport;
}

const noLamps = {
  malfunction: 'unavailable',
  redStop: 'unavailable',
  amberWarning: 'unavailable',
  protect: 'unavailable',
} as const;
/** Flash byte of a controller that does not flash. Source: SAE J1939-73, DM1. */
const noFlash = 255;

/**
 * Decodes one message of the faults topic, given when it arrived in UTC epoch ms.
 *
 * Errors: none; a reject that names the first field that is wrong.
 */
export function decodeFaultMessage(payload: Uint8Array, arrivalMs: number): DecodedFaults | RejectedMessage {
  const opened = openMessage(payload);
  if (opened.form === 'reject') return opened;
  if (opened.fields.codes === undefined) return reject('unknown-form', 'expected codes');
  const timeMs = readMessageTime(opened.fields.time, arrivalMs);
  if (typeof timeMs !== 'number') return timeMs;
  const parsed = faultMessageSchema.omit({ time: true }).safeParse(opened.fields);
  if (!parsed.success) {
    const issue = parsed.error.issues[0];
    return reject(
      'bad-shape',
      `${issue?.path.join('.') ?? ''}: ${issue?.message ?? 'not a fault report'}`.slice(0, 200),
    );
  }
  const { machineId, sourceAddress, kind, lamps = noLamps, flash = noFlash, codes, isPartial } = parsed.data;
  const partial = isPartial === true ? { isPartial } : {};
  return { form: 'faults', report: { machineId, timeMs, sourceAddress, kind, lamps, flash, codes, ...partial } };
}

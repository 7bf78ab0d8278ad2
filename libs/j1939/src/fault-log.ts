/** Fault messages of all controllers, thinned out to what changed. */

import type { FaultReport } from '@warmbrick/signals';
import { decodeFaults } from './decode-faults.js';

/** An unchanged list is reported again after this time, ms. Source: design decision; the bus repeats it every second. */
export const repeatFaultsMs = 60_000;

/** Shortest payload that holds lamps and flash, bytes. Source: SAE J1939-73, 5.7.1. */
const minFaultBytes = 2;

interface LastReport {
  readonly timeMs: number;
  readonly text: string;
}

/** Collects reports until they are taken, leaving out what only repeats. */
export class FaultLog {
  readonly #machineId: string;
  /** At most two kinds for each of 256 addresses. */
  readonly #last = new Map<number, LastReport>();
  #reports: FaultReport[] = [];

  constructor(machineId: string) {
    this.#machineId = machineId;
  }

  take(timeMs: number, kind: FaultReport['kind'], sourceAddress: number, payload: Uint8Array): void {
    if (payload.length < minFaultBytes) return;
    const decoded = decodeFaults(payload);
    const text = JSON.stringify(decoded);
    const key = sourceAddress * 2 + (kind === 'active' ? 0 : 1);
    const last = this.#last.get(key);
    if (last && last.text === text && timeMs - last.timeMs < repeatFaultsMs) return;
    this.#last.set(key, { timeMs, text });
    // Whole milliseconds, never before the frame.
    this.#reports.push({ machineId: this.#machineId, timeMs: Math.ceil(timeMs), sourceAddress, kind, ...decoded });
  }

  /** Reports since the last call. */
  drain(): FaultReport[] {
    const reports = this.#reports;
    this.#reports = [];
    return reports;
  }
}

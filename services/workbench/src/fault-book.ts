/** Every fault code that a machine reported, once each. */

import { type FaultCodeDocument, toInstant } from '@warmbrick/contracts';
import type { FaultReport } from '@warmbrick/signals';

export interface FaultBook {
  add(report: FaultReport): void;
  /** In order of first report. */
  codes(): FaultCodeDocument[];
}

/** Codes kept for a machine at most; more than this is no fault list. */
const mostCodes = 5000;

/** Creates an empty book. */
export function createFaultBook(): FaultBook {
  const codes = new Map<string, FaultCodeDocument>();
  return {
    add(report) {
      const at = toInstant(report.timeMs);
      for (const { spn, fmi, occurrenceCount } of report.codes) {
        const key = `${report.sourceAddress} ${report.kind} ${spn} ${fmi}`;
        const known = codes.get(key);
        if (known === undefined && codes.size >= mostCodes) continue;
        codes.set(key, {
          sourceAddress: report.sourceAddress,
          kind: report.kind,
          spn,
          fmi,
          occurrenceCount: occurrenceCount ?? known?.occurrenceCount ?? null,
          firstAt: known?.firstAt ?? at,
          lastAt: at,
        });
      }
    },
    codes: () => [...codes.values()],
  };
}

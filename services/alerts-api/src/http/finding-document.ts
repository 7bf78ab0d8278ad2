/** Findings as the API writes them. */

import type { Finding } from '@warmbrick/analysis';
import type { FindingDocument } from '@warmbrick/contracts';
import { formatInstant } from './instant.js';

/** A finding with its times as RFC 3339. */
export function findingDocument(finding: Finding): FindingDocument {
  return {
    id: finding.id,
    machineId: finding.machineId,
    kind: finding.kind,
    startedAt: formatInstant(finding.startedMs),
    endedAt: finding.endedMs === null ? null : formatInstant(finding.endedMs),
    severity: finding.severity,
    values: finding.values,
    evidence: finding.evidence,
    thresholdSet: finding.thresholdSet,
  };
}

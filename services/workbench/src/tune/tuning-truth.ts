/** The truth that a search is judged by: from files, or found in the samples and fault codes themselves. */

import {
  builtInThresholds,
  derateEpisodes,
  type FindingKind,
  findingKinds,
  foldFaults,
  initialFaultLog,
} from '@warmbrick/analysis';
import { nearestName, OperatingError } from '@warmbrick/runtime';
import { createBench, type TruthLabel } from '@warmbrick/tuning';
import { readTruth } from '../truth/read-truth.js';
import type { LaidUnits } from './lay-units.js';
import { readBlocks } from './unit-file.js';

const foundPrefix = 'found:';

/**
 * Reads labels from each source: a file, or `found:regeneration`, `found:derate` and so on for what the built-in set finds in
 * the data (derates also by fault codes). What was found so can be foretold by other findings, but proves nothing about its
 * own thresholds.
 *
 * Errors: OperatingError `bad-truth`.
 */
export async function gatherTruth(sources: readonly string[], laid: LaidUnits): Promise<TruthLabel[]> {
  const labels: TruthLabel[] = [];
  for (const source of sources) {
    if (source.startsWith(foundPrefix)) labels.push(...found(kindOf(source.slice(foundPrefix.length)), laid));
    else for (const label of await readTruth(source)) labels.push(label);
  }
  const known = new Set(laid.units.map(({ machineId }) => machineId));
  if (labels.some(({ machineId }) => known.has(machineId))) return labels;
  const named = [...new Set(labels.map(({ machineId }) => machineId))].slice(0, 5).join(', ');
  throw new OperatingError(`no label is about a machine of the recordings; labels are about: ${named || 'nothing'}.`, {
    code: 'bad-truth',
    remedy: `The recordings have: ${[...known].slice(0, 12).join(', ')}.`,
  });
}

function kindOf(written: string): FindingKind {
  if ((findingKinds as readonly string[]).includes(written)) return written as FindingKind;
  const near = nearestName(written, findingKinds);
  throw new OperatingError(`there is no finding "${written}"${near === null ? '' : `; did you mean ${near}?`}.`, {
    code: 'bad-truth',
    where: `--truth ${foundPrefix}${written}`,
    remedy: 'Such as --truth found:derate or --truth found:regeneration.',
  });
}

function found(kind: FindingKind, laid: LaidUnits): TruthLabel[] {
  const labels: TruthLabel[] = [];
  for (const unit of laid.units) {
    const bench = createBench(unit, readBlocks(unit.path), { kinds: new Set([kind]) });
    const findings = bench.findings(builtInThresholds).findings.map(({ finding }) => finding);
    if (kind === 'derate') {
      const { episodes } = foldFaults(initialFaultLog, laid.faults.get(unit.machineId) ?? []);
      const within = episodes.filter(({ startedMs }) => startedMs >= unit.fromMs && startedMs <= unit.toMs);
      for (const one of derateEpisodes(findings, within, { profile: unit.profile })) labels.push(labelOf(kind, one));
    } else {
      for (const finding of findings) labels.push(labelOf(kind, finding));
    }
  }
  return labels;
}

function labelOf(
  kind: string,
  event: { readonly machineId: string; readonly startedMs: number; readonly endedMs: number | null },
): TruthLabel {
  const { machineId, startedMs, endedMs } = event;
  return { machineId, kind, startedMs, endedMs, isRequired: true };
}

/** Replays the recordings of a case into the document that `warmbrick replay --json` prints. */

import { builtInThresholds } from '@warmbrick/analysis';
import { type ReplayDocument, replayDocumentSchema } from '@warmbrick/contracts';
import { defaultProfile } from '@warmbrick/signals';
import { replayRecordings } from '@warmbrick/workbench';
import type { CaseFile } from './case-file.js';

/**
 * The whole answer for some recordings of a folder, with the machines' profiles of its case file.
 *
 * Errors: throws when the document breaks its own schema.
 */
export async function replayCase(
  folder: string,
  files: readonly string[],
  caseFile: Pick<CaseFile, 'machines'>,
): Promise<{ document: ReplayDocument }> {
  const { document } = await replayRecordings({
    paths: files.map((file) => `${folder}${file}`),
    profiles: { profileOf: (machineId) => caseFile.machines[machineId] ?? defaultProfile },
    thresholds: builtInThresholds,
    reading: {},
  });
  return { document: replayDocumentSchema.parse(document) };
}

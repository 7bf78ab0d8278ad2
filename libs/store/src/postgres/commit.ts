/** One transaction a batch: cursors, what they brought, and what was turned away. */

import { packChange } from '../pack-change.js';
import type { CommitExtras, CursorMove, MachineChange } from '../store.js';
import type { AlertDesk } from './alert-desk.js';
import { archiveSamples } from './archive-samples.js';
import { moveCursors } from './cursors.js';
import type { Database } from './database.js';
import { writeFaults } from './faults.js';
import { writeFindings } from './findings.js';
import { type AlertDraft, foldAlerts } from './fold-alerts.js';
import { markChanges } from './inquiry-due.js';
import { writeStanding } from './machines.js';
import { addRejects } from './rejects.js';
import { writeRows } from './residency-rows.js';
import type { SampleMonths } from './sample-months.js';
import { writeScoreDays } from './score-days.js';
import { writeKeptSnapshots, writeStates } from './snapshots.js';

export interface Committing {
  readonly database: Database;
  readonly months: SampleMonths;
  readonly hasOutbox: boolean;
  /** null where commits make no alerts. */
  readonly desk: AlertDesk | null;
}

/** SQLSTATE of a row without a partition to go to, among others. Source: PostgreSQL documentation, appendix A. */
const checkViolation = '23514';

/** Writes everything or nothing. Errors: those of `moveCursors` and of the database. */
export async function commit(
  committing: Committing,
  changes: readonly MachineChange[],
  extras: CommitExtras | CursorMove,
): Promise<void> {
  const { months, desk } = committing;
  const ordered = inOrderOfId(changes).map(packChange);
  const { cursors = [], rejects = [] } = 'epoch' in extras ? { cursors: [extras] } : extras;
  const write = async () => {
    await months.ensure(ordered);
    const draft = await writeAll(committing, ordered, { cursors, rejects });
    if (draft !== null) desk?.settle(draft.entries, draft.events);
  };
  try {
    await write();
  } catch (error) {
    // A month was dropped by somebody else after it was seen here; nothing was written.
    if ((error as { code?: unknown }).code !== checkViolation) throw error;
    months.forget();
    await write();
  }
}

async function writeAll(
  { database, hasOutbox, desk }: Committing,
  changes: readonly MachineChange[],
  { cursors, rejects }: Required<CommitExtras>,
): Promise<AlertDraft | null> {
  return database.inTransaction(async (session) => {
    // First, so that a writer without the epoch waits for, and then writes, nothing.
    await moveCursors(session, cursors);
    await addRejects(session, rejects);
    if (changes.length === 0) return null;
    await writeStanding(session, changes);
    await archiveSamples(session, changes);
    await markChanges(session, changes);
    await writeFindings(session, changes, hasOutbox);
    await writeRows(session, changes);
    await writeScoreDays(session, changes);
    await writeFaults(session, changes);
    await writeStates(session, changes);
    await writeKeptSnapshots(session, changes);
    return desk === null ? null : foldAlerts(session, desk, changes);
  });
}

function inOrderOfId(changes: readonly MachineChange[]): MachineChange[] {
  const ordered = [...changes].sort((a, b) => (a.machineId < b.machineId ? -1 : 1));
  for (let i = 1; i < ordered.length; i++) {
    const { machineId } = ordered[i] as MachineChange;
    if (machineId === ordered[i - 1]?.machineId) throw new Error(`two changes of machine ${machineId} in one commit`);
  }
  return ordered;
}

/** Fault reports: the lists of codes as controllers sent them. */

import { createHash } from 'node:crypto';
import type { FaultReport } from '@warmbrick/signals';
import type { FaultPage, MachineChange, Page } from '../store.js';
import type { Row, Session } from './database.js';
import { inputsOf } from './fault-inputs.js';
import { foldFaultLogs } from './fold-fault-log.js';
import { earliestByMachine, markDue } from './inquiry-due.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

/** Writes reports that are not there yet and folds them into the log of their machine, whose row is locked. */
export async function writeFaults(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const fresh = await insertFaults(session, changes);
  const inputs = new Map([...fresh].map(([machineId, reports]) => [machineId, reports.flatMap(inputsOf)] as const));
  await markDue(session, earliestByMachine(await foldFaultLogs(session, inputs)));
}

/** Inserts reports; returns those that are new, by machine. */
async function insertFaults(session: Session, changes: readonly MachineChange[]): Promise<Map<string, FaultReport[]>> {
  const items = changes.flatMap(({ machineId, faults }) =>
    (faults ?? []).map((report) => ({ machineId, report, body: bodyOf(report) })),
  );
  const fresh = new Map<string, FaultReport[]>();
  if (items.length === 0) return fresh;
  const { rows } = await session.query({
    name: 'write-faults',
    text: `INSERT INTO fault_report (machine_id, at, source_address, kind, digest, body)
      SELECT machine_id, at, source_address, kind, digest, body::json
      FROM unnest($1::text[], $2::int8[], $3::int2[], $4::text[], $5::text[], $6::text[])
        AS t(machine_id, at, source_address, kind, digest, body)
      ON CONFLICT DO NOTHING RETURNING machine_id, body`,
    values: [
      items.map((item) => item.machineId),
      items.map((item) => Math.floor(item.report.timeMs)),
      items.map((item) => item.report.sourceAddress),
      items.map((item) => item.report.kind),
      items.map((item) => createHash('md5').update(item.body).digest('hex')),
      items.map((item) => item.body),
    ],
  });
  for (const { machine_id: machineId, body } of rows) {
    const report: FaultReport = { machineId, ...body };
    const known = fresh.get(machineId);
    if (known === undefined) fresh.set(machineId, [report]);
    else known.push(report);
  }
  return fresh;
}

/** The report without its machine, its fields in one order, so that equal reports are equal texts. */
function bodyOf({ timeMs, sourceAddress, kind, lamps, flash, codes, isPartial }: FaultReport): string {
  const { malfunction, redStop, amberWarning, protect } = lamps;
  return JSON.stringify({
    timeMs,
    sourceAddress,
    kind,
    lamps: { malfunction, redStop, amberWarning, protect },
    flash,
    codes: codes.map(({ spn, fmi, occurrenceCount, conversionMethod }) => ({
      spn,
      fmi,
      occurrenceCount,
      conversionMethod,
    })),
    // Absent from what was stored before there were partial reports.
    isPartial,
  });
}

const place = { at: 'number', address: 'number', kind: 'string', digest: 'string' } as const;
type Place = { at: number; address: number; kind: string; digest: string };

/** Reports of a machine within [fromMs, toMs), newest or oldest first. */
export async function listFaults(session: Session, page: FaultPage): Promise<Page<FaultReport>> {
  const limit = pageLimit(page.limit);
  const isRising = page.first === 'oldest';
  const list = isRising ? 'faults-rising' : 'faults';
  const values: unknown[] = [limit + 1, page.machineId];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['machine_id = $2'];
  if (page.fromMs !== undefined) conditions.push(`at >= ${value(Math.ceil(page.fromMs))}`);
  if (page.toMs !== undefined) conditions.push(`at < ${value(Math.ceil(page.toMs))}`);
  if (page.cursor !== undefined) {
    const { at, address, kind, digest } = decodeCursor<Place>(page.cursor, list, place);
    const key = [at, address, kind, digest].map(value).join(', ');
    conditions.push(`(at, source_address, kind, digest) ${isRising ? '>' : '<'} (${key})`);
  }
  const order = ['at', 'source_address', 'kind', 'digest'].map((name) => (isRising ? name : `${name} DESC`));
  const { rows } = await session.query({
    text: `SELECT machine_id, at, source_address, kind, digest, body FROM fault_report
      WHERE ${conditions.join(' AND ')} ORDER BY ${order.join(', ')} LIMIT $1`,
    values,
  });
  const toPosition = (row: Row) => ({ at: row.at, address: row.source_address, kind: row.kind, digest: row.digest });
  const toItem = (row: Row): FaultReport => ({ machineId: row.machine_id, ...row.body });
  return toPage(rows, { list, limit, toItem, toPosition });
}

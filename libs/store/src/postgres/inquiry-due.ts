/** Machines whose derates have to be inquired into anew: marked by the commit that made it so, taken under a lease. */

import type { DueInquiry } from '../fault-store.js';
import type { MachineChange } from '../store.js';
import type { Database, Session } from './database.js';
import { nowSql } from './outbox.js';

/** Kind of the findings that derates are made of. */
const derateKind = 'derate';

/** A machine and from when on something of it changed. */
export interface Mark {
  readonly machineId: string;
  readonly fromMs: number;
}

/** Marks machines as due from a time on; one that is due already stays so from the earlier time. */
export async function markDue(session: Session, marks: readonly Mark[]): Promise<void> {
  if (marks.length === 0) return;
  await session.query({
    name: 'mark-inquiry-due',
    text: `INSERT INTO inquiry_due (machine_id, from_ms, seq)
      SELECT machine_id, from_ms, 1 FROM unnest($1::text[], $2::int8[]) AS t(machine_id, from_ms)
      ON CONFLICT (machine_id) DO UPDATE SET from_ms = least(inquiry_due.from_ms, excluded.from_ms), seq = inquiry_due.seq + 1`,
    values: [marks.map(({ machineId }) => machineId), marks.map(({ fromMs }) => Math.floor(fromMs))],
  });
}

/** A derate that goes on is looked at again after this machine time at the latest, ms. Source: engineering judgement. */
const goingOnMs = 600_000;

/**
 * What a batch of changes makes due, told before its findings are written: derate findings that are new, end or withdrawn,
 * or go on for a while; and late samples of a machine that has been derated, since they may be evidence.
 */
export async function markChanges(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const marks = [...(await madeDerates(session, changes)), ...(await unmadeDerates(session, changes))];
  const rewound = changes.filter(({ rewoundToMs }) => rewoundToMs !== null);
  if (rewound.length > 0) {
    const { rows } = await session.query({
      name: 'rewound-derates',
      text: `SELECT DISTINCT t.machine_id, t.at FROM unnest($1::text[], $2::int8[]) AS t(machine_id, at)
        JOIN derate d ON d.machine_id = t.machine_id AND d.withdrawn_at IS NULL AND (d.ended IS NULL OR d.ended >= t.at)`,
      values: [
        rewound.map(({ machineId }) => machineId),
        rewound.map(({ rewoundToMs }) => Math.floor(rewoundToMs ?? 0)),
      ],
    });
    marks.push(...rows.map((row) => ({ machineId: row.machine_id, fromMs: row.at })));
  }
  await markDue(session, earliestByMachine(marks));
}

async function madeDerates(session: Session, changes: readonly MachineChange[]): Promise<Mark[]> {
  const derates = changes.flatMap(({ findings }) => findings.filter(({ kind }) => kind === derateKind));
  if (derates.length === 0) return [];
  const { rows } = await session.query({
    name: 'news-of-derates',
    text: `SELECT t.machine_id, t.started FROM unnest($1::text[], $2::text[], $3::int8[], $4::int8[], $5::text[], $6::int8[])
        AS t(machine_id, id, started, ended, evidence, emitted)
      LEFT JOIN finding f ON f.id = t.id
      WHERE f.id IS NULL OR f.withdrawn_at IS NOT NULL OR f.ended IS DISTINCT FROM t.ended
        OR f.evidence::text <> t.evidence OR f.emitted / ${goingOnMs} <> t.emitted / ${goingOnMs}`,
    values: [
      derates.map(({ machineId }) => machineId),
      derates.map(({ id }) => id),
      derates.map(({ startedMs }) => startedMs),
      derates.map(({ endedMs }) => endedMs),
      derates.map(({ evidence }) => JSON.stringify(evidence)),
      derates.map(({ emittedMs }) => emittedMs),
    ],
  });
  return rows.map((row) => ({ machineId: row.machine_id, fromMs: row.started }));
}

async function unmadeDerates(session: Session, changes: readonly MachineChange[]): Promise<Mark[]> {
  const ids = changes.flatMap(({ withdrawnFindingIds }) => withdrawnFindingIds);
  if (ids.length === 0) return [];
  const { rows } = await session.query({
    name: 'unmade-derates',
    text: `SELECT machine_id, started FROM finding
      WHERE id = ANY($1::text[]) AND kind = '${derateKind}' AND withdrawn_at IS NULL`,
    values: [ids],
  });
  return rows.map((row) => ({ machineId: row.machine_id, fromMs: row.started }));
}

/** One mark a machine, in order of ids, as all who lock. */
export function earliestByMachine(marks: readonly Mark[]): Mark[] {
  const byMachine = new Map<string, number>();
  for (const { machineId, fromMs } of marks) {
    byMachine.set(machineId, Math.min(fromMs, byMachine.get(machineId) ?? fromMs));
  }
  return [...byMachine]
    .map(([machineId, fromMs]) => ({ machineId, fromMs }))
    .sort((a, b) => (a.machineId < b.machineId ? -1 : 1));
}

/** Takes machines that are due and free. */
export async function takeDueInquiries(database: Database, limit: number, leaseMs: number): Promise<DueInquiry[]> {
  const { rows } = await database.query({
    name: 'take-due-inquiries',
    text: `WITH free AS (
        SELECT machine_id FROM inquiry_due WHERE available <= ${nowSql} ORDER BY machine_id LIMIT $1 FOR UPDATE SKIP LOCKED)
      UPDATE inquiry_due d SET available = ${nowSql} + $2::int8 FROM free WHERE free.machine_id = d.machine_id
      RETURNING d.machine_id, d.from_ms, d.seq`,
    values: [limit, Math.round(leaseMs)],
  });
  return rows.map((row) => ({ machineId: row.machine_id, fromMs: row.from_ms, seq: row.seq }));
}

/** Ends a lease: the mark goes unless something happened meanwhile. */
export async function settleDueInquiry(database: Database, { machineId, seq }: DueInquiry): Promise<void> {
  await database.inTransaction(async (session) => {
    const text = 'DELETE FROM inquiry_due WHERE machine_id = $1 AND seq = $2';
    const { rowCount } = await session.query({ name: 'settle-inquiry', text, values: [machineId, seq] });
    if (rowCount > 0) return;
    await session.query({
      name: 'free-inquiry',
      text: 'UPDATE inquiry_due SET available = 0 WHERE machine_id = $1',
      values: [machineId],
    });
  });
}

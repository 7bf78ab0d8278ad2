/** Findings: written once however often they come, revised when they change, withdrawn when a re-run unmakes them. */

import type { Finding } from '@warmbrick/analysis';
import type { FindingPage, MachineChange, Page } from '../store.js';
import type { Row, Session } from './database.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

/** Whether a finding that comes again differs from the stored one, or the stored one was withdrawn. */
const isChanged = `(finding.withdrawn_at IS NOT NULL
  OR (finding.ended, finding.severity, finding."values"::text, finding.evidence::text, finding.threshold_set)
    IS DISTINCT FROM
    (excluded.ended, excluded.severity, excluded."values"::text, excluded.evidence::text, excluded.threshold_set))`;

const writeText = `INSERT INTO finding
    (id, machine_id, kind, started, ended, severity, "values", evidence, threshold_set, emitted)
  SELECT id, machine_id, kind, started, ended, severity, "values"::json, evidence::json, threshold_set, emitted
  FROM unnest($1::text[], $2::text[], $3::text[], $4::int8[], $5::int8[], $6::text[], $7::text[], $8::text[], $9::text[],
    $10::int8[]) AS t(id, machine_id, kind, started, ended, severity, "values", evidence, threshold_set, emitted)
  ON CONFLICT (id) DO UPDATE SET ended = excluded.ended, severity = excluded.severity, "values" = excluded."values",
    evidence = excluded.evidence, threshold_set = excluded.threshold_set, emitted = excluded.emitted,
    withdrawn_at = NULL, revision = finding.revision + CASE WHEN ${isChanged} THEN 1 ELSE 0 END
  WHERE finding.emitted <> excluded.emitted OR ${isChanged}`;

/** Withdraws and writes findings. The revision rises when the content changes, not when it only comes again. */
export async function writeFindings(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const byId = new Map<string, Finding>();
  for (const change of changes) for (const finding of change.findings) byId.set(finding.id, finding);
  const withdrawn = changes.flatMap((change) => change.withdrawnFindingIds).filter((id) => !byId.has(id));
  await withdraw(session, withdrawn);
  if (byId.size === 0) return;
  const findings = [...byId.values()];
  await session.query({
    name: 'write-findings',
    text: writeText,
    values: [
      findings.map((finding) => finding.id),
      findings.map((finding) => finding.machineId),
      findings.map((finding) => finding.kind),
      findings.map((finding) => finding.startedMs),
      findings.map((finding) => finding.endedMs),
      findings.map((finding) => finding.severity),
      findings.map((finding) => JSON.stringify(finding.values)),
      findings.map((finding) => JSON.stringify(finding.evidence)),
      findings.map((finding) => finding.thresholdSet),
      findings.map((finding) => finding.emittedMs),
    ],
  });
}

async function withdraw(session: Session, ids: readonly string[]): Promise<void> {
  if (ids.length === 0) return;
  await session.query({
    name: 'withdraw-findings',
    text: `UPDATE finding SET withdrawn_at = (extract(epoch FROM now()) * 1000)::int8, revision = revision + 1
      WHERE id = ANY($1::text[]) AND withdrawn_at IS NULL`,
    values: [ids],
  });
}

const position = { started: 'number', id: 'string' } as const;

/** Findings of a machine that started in [fromMs, toMs), newest first; withdrawn ones are left out. */
export async function listFindings(session: Session, page: FindingPage): Promise<Page<Finding>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1, page.machineId];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['machine_id = $2', 'withdrawn_at IS NULL'];
  if (page.fromMs !== undefined) conditions.push(`started >= ${value(Math.ceil(page.fromMs))}`);
  if (page.toMs !== undefined) conditions.push(`started < ${value(Math.ceil(page.toMs))}`);
  if (page.kinds !== undefined) conditions.push(`kind = ANY(${value(page.kinds)}::text[])`);
  if (page.cursor !== undefined) {
    const { started, id } = decodeCursor<{ started: number; id: string }>(page.cursor, 'findings', position);
    const at = value(started);
    conditions.push(`started <= ${at} AND (started < ${at} OR id > ${value(id)})`);
  }
  const { rows } = await session.query({
    text: `SELECT id, machine_id, kind, started, ended, severity, "values", evidence, threshold_set, emitted FROM finding
      WHERE ${conditions.join(' AND ')} ORDER BY started DESC, id LIMIT $1`,
    values,
  });
  const toPosition = (row: Row) => ({ started: row.started, id: row.id });
  return toPage(rows, { list: 'findings', limit, toItem: toFinding, toPosition });
}

/** Ids of a machine's findings, not withdrawn, that were last made after a machine time. */
export async function findingIdsSince(session: Session, machineId: string, atMs: number): Promise<string[]> {
  const { rows } = await session.query({
    name: 'finding-ids-since',
    text: `SELECT id FROM finding
      WHERE machine_id = $1 AND emitted > $2 AND withdrawn_at IS NULL ORDER BY started, id`,
    values: [machineId, Math.floor(atMs)],
  });
  return rows.map((row) => row.id);
}

/** Number of findings by machine and kind, each machine within its own range; machines without any are left out. */
export async function countFindings(
  session: Session,
  ranges: readonly { machineId: string; fromMs: number; toMs: number }[],
): Promise<Map<string, Record<string, number>>> {
  const { rows } = await session.query({
    name: 'count-findings',
    text: `SELECT r.machine_id, f.kind, count(*)::int4 AS n
      FROM unnest($1::text[], $2::int8[], $3::int8[]) AS r(machine_id, from_ms, to_ms)
      JOIN finding f ON f.machine_id = r.machine_id AND f.started >= r.from_ms AND f.started < r.to_ms
      WHERE f.withdrawn_at IS NULL GROUP BY r.machine_id, f.kind ORDER BY r.machine_id, f.kind`,
    values: [
      ranges.map((range) => range.machineId),
      ranges.map((range) => Math.ceil(range.fromMs)),
      ranges.map((range) => Math.ceil(range.toMs)),
    ],
  });
  const counts = new Map<string, Record<string, number>>();
  for (const row of rows) {
    const ofMachine = counts.get(row.machine_id) ?? {};
    ofMachine[row.kind] = row.n;
    counts.set(row.machine_id, ofMachine);
  }
  return counts;
}

function toFinding(row: Row): Finding {
  return {
    id: row.id,
    machineId: row.machine_id,
    kind: row.kind,
    startedMs: row.started,
    endedMs: row.ended,
    severity: row.severity,
    values: row.values,
    evidence: row.evidence,
    thresholdSet: row.threshold_set,
    emittedMs: row.emitted,
  };
}

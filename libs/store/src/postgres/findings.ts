/** Findings: written once however often they come, revised when they change, withdrawn when a re-run unmakes them. */

import type { Finding } from '@warmbrick/analysis';
import type { FindingPage, MachineChange, Page } from '../store.js';
import type { Row, Session } from './database.js';
import { nowSql } from './outbox.js';
import { pageLimit, toPage } from './page.js';
import { decodeCursor } from './page-cursor.js';

/** The topic that findings are told on. */
const findingsTopic = 'aftertreatment.findings.v1';

/** Whether a finding that comes again differs from the stored one, or the stored one was withdrawn. */
const isChanged = `(finding.withdrawn_at IS NOT NULL
  OR (finding.ended, finding.severity, finding."values"::text, finding.evidence::text, finding.threshold_set)
    IS DISTINCT FROM
    (excluded.ended, excluded.severity, excluded."values"::text, excluded.evidence::text, excluded.threshold_set))`;

const upsertText = `INSERT INTO finding
    (id, machine_id, kind, started, ended, severity, "values", evidence, threshold_set, emitted)
  SELECT id, machine_id, kind, started, ended, severity, "values"::json, evidence::json, threshold_set, emitted
  FROM unnest($1::text[], $2::text[], $3::text[], $4::int8[], $5::int8[], $6::text[], $7::text[], $8::text[], $9::text[],
    $10::int8[]) AS t(id, machine_id, kind, started, ended, severity, "values", evidence, threshold_set, emitted)
  ON CONFLICT (id) DO UPDATE SET ended = excluded.ended, severity = excluded.severity, "values" = excluded."values",
    evidence = excluded.evidence, threshold_set = excluded.threshold_set, emitted = excluded.emitted,
    withdrawn_at = NULL, revision = finding.revision + CASE WHEN ${isChanged} THEN 1 ELSE 0 END
  WHERE finding.emitted <> excluded.emitted OR ${isChanged}`;

const outboxColumns = 'topic, key, subject_id, revision, payload, at';

/** The same with a message for each finding that is new or has a higher revision than before the statement. */
const upsertAndTellText = `WITH before AS (SELECT id, revision FROM finding WHERE id = ANY($1::text[])),
  made AS (${upsertText} RETURNING *)
  INSERT INTO outbox (${outboxColumns})
  SELECT '${findingsTopic}', made.machine_id, made.id, made.revision, json_build_object('type', 'made',
      'machineId', made.machine_id, 'finding', json_build_object('id', made.id, 'machineId', made.machine_id,
        'kind', made.kind, 'startedMs', made.started, 'endedMs', made.ended, 'severity', made.severity,
        'values', made."values", 'evidence', made.evidence, 'thresholdSet', made.threshold_set,
        'emittedMs', made.emitted)), ${nowSql}
  FROM made LEFT JOIN before USING (id) WHERE made.revision IS DISTINCT FROM before.revision
  ORDER BY made.machine_id, made.started, made.id
  ON CONFLICT DO NOTHING`;

const withdrawText = `UPDATE finding SET withdrawn_at = ${nowSql}, revision = revision + 1
  WHERE id = ANY($1::text[]) AND withdrawn_at IS NULL`;

const withdrawAndTellText = `WITH gone AS (${withdrawText} RETURNING id, machine_id, started, revision)
  INSERT INTO outbox (${outboxColumns})
  SELECT '${findingsTopic}', machine_id, id, revision,
    json_build_object('type', 'withdrawn', 'machineId', machine_id, 'findingId', id), ${nowSql}
  FROM gone ORDER BY machine_id, started, id
  ON CONFLICT DO NOTHING`;

/**
 * Withdraws and writes findings. The revision rises when the content changes, not when it only comes again; with
 * `hasOutbox` each new revision is also put into the outbox.
 */
export async function writeFindings(
  session: Session,
  changes: readonly MachineChange[],
  hasOutbox: boolean,
): Promise<void> {
  const byId = new Map<string, Finding>();
  for (const change of changes) for (const finding of change.findings) byId.set(finding.id, finding);
  const withdrawn = changes.flatMap((change) => change.withdrawnFindingIds).filter((id) => !byId.has(id));
  if (withdrawn.length > 0) {
    await session.query({
      name: hasOutbox ? 'withdraw-and-tell' : 'withdraw-findings',
      text: hasOutbox ? withdrawAndTellText : withdrawText,
      values: [withdrawn],
    });
  }
  if (byId.size === 0) return;
  const findings = [...byId.values()];
  await session.query({
    name: hasOutbox ? 'write-and-tell' : 'write-findings',
    text: hasOutbox ? upsertAndTellText : upsertText,
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

const position = { started: 'number', id: 'string' } as const;

/** Findings of one machine or of all that started in [fromMs, toMs), newest first; withdrawn ones are left out. */
export async function listFindings(session: Session, page: FindingPage): Promise<Page<Finding>> {
  const limit = pageLimit(page.limit);
  const values: unknown[] = [limit + 1];
  const value = (it: unknown) => `$${values.push(it)}`;
  const conditions = ['withdrawn_at IS NULL'];
  if (page.machineId !== undefined) conditions.push(`machine_id = ${value(page.machineId)}`);
  if (page.fleets !== undefined) {
    conditions.push(
      `machine_id IN (SELECT machine_id FROM machine WHERE fleet_id = ANY(${value(page.fleets)}::text[]))`,
    );
  }
  if (page.fromMs !== undefined) conditions.push(`started >= ${value(Math.ceil(page.fromMs))}`);
  if (page.toMs !== undefined) conditions.push(`started < ${value(Math.ceil(page.toMs))}`);
  if (page.kinds !== undefined) conditions.push(`kind = ANY(${value(page.kinds)}::text[])`);
  if (page.severities !== undefined) conditions.push(`severity = ANY(${value(page.severities)}::text[])`);
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

/** A finding as it was written. */
export function toFinding(row: Row): Finding {
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

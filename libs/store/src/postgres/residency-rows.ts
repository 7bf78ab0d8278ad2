/** Residency rows: one a machine and quarter of an hour. */

import type { ResidencyRow } from '@warmbrick/analysis';
import { packRow, unpackRows } from '../row/pack-row.js';
import type { MachineChange } from '../store.js';
import { cutBytes } from './cut-bytes.js';
import type { Session } from './database.js';

/** Writes rows; those that a rewind makes void go first. A row of the same start replaces the earlier one. */
export async function writeRows(session: Session, changes: readonly MachineChange[]): Promise<void> {
  const rewound = changes.filter((change) => change.rewoundToMs !== null);
  if (rewound.length > 0) {
    await session.query({
      name: 'void-rows',
      text: `DELETE FROM residency_row r USING unnest($1::text[], $2::float8[]) AS t(machine_id, rewound_to)
        WHERE r.machine_id = t.machine_id AND r.started > t.rewound_to`,
      values: [rewound.map((change) => change.machineId), rewound.map((change) => change.rewoundToMs)],
    });
  }
  const byKey = new Map<string, { machineId: string; row: ResidencyRow }>();
  for (const { machineId, rows } of changes) {
    for (const row of rows) byKey.set(`${row.startedMs} ${machineId}`, { machineId, row });
  }
  if (byKey.size === 0) return;
  const items = [...byKey.values()];
  const bodies = cutBytes(items.map((item) => packRow(item.row)));
  await session.query({
    name: 'write-rows',
    text: `INSERT INTO residency_row (machine_id, started, body)
      SELECT machine_id, started, substring($5::bytea FROM first FOR size)
      FROM unnest($1::text[], $2::int8[], $3::int4[], $4::int4[]) AS t(machine_id, started, first, size)
      ON CONFLICT (machine_id, started) DO UPDATE SET body = excluded.body WHERE residency_row.body <> excluded.body`,
    values: [
      items.map((item) => item.machineId),
      items.map((item) => item.row.startedMs),
      bodies.firsts,
      bodies.sizes,
      bodies.bytes,
    ],
  });
}

/**
 * Rows that start in [fromMs, toMs), by machine, in order of time. Machines without any are left out.
 *
 * One value a machine comes from the server: a field or a row of its own costs the driver more than all the rest.
 */
export async function listRows(
  session: Session,
  machineIds: readonly string[],
  range: { readonly fromMs: number; readonly toMs: number },
): Promise<Map<string, ResidencyRow[]>> {
  const { rows } = await session.query({
    name: 'list-rows',
    text: `SELECT machine_id, string_agg(body, '' ORDER BY started) AS bodies
      FROM residency_row WHERE machine_id = ANY($1::text[]) AND started >= $2 AND started < $3
      GROUP BY machine_id ORDER BY machine_id`,
    values: [machineIds, Math.ceil(range.fromMs), Math.ceil(range.toMs)],
  });
  return new Map(rows.map((row) => [row.machine_id as string, unpackRows(row.bodies as Buffer)]));
}

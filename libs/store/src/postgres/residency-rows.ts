/** Residency rows: one a machine and quarter of an hour. */

import type { ResidencyRow } from '@warmbrick/analysis';
import type { MachineChange } from '../store.js';
import type { Row, Session } from './database.js';

/** Columns of the table for the fields of a row, apart from its start. */
const columnByField = {
  runningS: 'running_s',
  idleS: 'idle_s',
  coolingDownS: 'cooling_down_s',
  lightS: 'light_s',
  workingS: 'working_s',
  belowS: 'below_s',
  inS: 'in_s',
  aboveS: 'above_s',
  belowReleaseS: 'below_release_s',
  noTemperatureS: 'no_temperature_s',
  crankingS: 'cranking_s',
  offS: 'off_s',
  unobservedS: 'unobserved_s',
  maxExhaustTempC: 'max_exhaust_temp_c',
  fuelL: 'fuel_l',
} as const satisfies Record<keyof Omit<ResidencyRow, 'startedMs'>, string>;

const fields = Object.keys(columnByField) as (keyof typeof columnByField)[];
const columns = Object.values(columnByField);

const insertText = `INSERT INTO residency_row (machine_id, started, ${columns.join(', ')})
  SELECT * FROM unnest($1::text[], $2::int8[], ${columns.map((_, i) => `$${i + 3}::float8[]`).join(', ')})
  ON CONFLICT (machine_id, started) DO UPDATE SET ${columns.map((name) => `${name} = excluded.${name}`).join(', ')}
  WHERE (${columns.map((name) => `residency_row.${name}`).join(', ')})
    IS DISTINCT FROM (${columns.map((name) => `excluded.${name}`).join(', ')})`;

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
  await session.query({
    name: 'write-rows',
    text: insertText,
    values: [
      items.map((item) => item.machineId),
      items.map((item) => item.row.startedMs),
      ...fields.map((field) => items.map((item) => item.row[field])),
    ],
  });
}

/** Rows that start in [fromMs, toMs), by machine, in order of time. Machines without any are left out. */
export async function listRows(
  session: Session,
  machineIds: readonly string[],
  range: { readonly fromMs: number; readonly toMs: number },
): Promise<Map<string, ResidencyRow[]>> {
  const { rows } = await session.query({
    name: 'list-rows',
    text: `SELECT machine_id, started, ${columns.join(', ')} FROM residency_row
      WHERE machine_id = ANY($1::text[]) AND started >= $2 AND started < $3 ORDER BY machine_id, started`,
    values: [machineIds, Math.ceil(range.fromMs), Math.ceil(range.toMs)],
  });
  const byMachine = new Map<string, ResidencyRow[]>();
  for (const row of rows) {
    const list = byMachine.get(row.machine_id);
    if (list === undefined) byMachine.set(row.machine_id, [toRow(row)]);
    else list.push(toRow(row));
  }
  return byMachine;
}

function toRow(row: Row): ResidencyRow {
  const values = Object.fromEntries(fields.map((field) => [field, row[columnByField[field]]]));
  return { startedMs: row.started, ...(values as Omit<ResidencyRow, 'startedMs'>) };
}

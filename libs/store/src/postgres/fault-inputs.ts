/** What was reported and typed, as the inputs that the fault log is folded from. */

import type { FaultInput, FaultNotice } from '@warmbrick/analysis';
import type { FaultReport } from '@warmbrick/signals';
import type { Session } from './database.js';

/** Reports read at once while folding again. Source: engineering judgement. */
const reportsPerSlice = 5_000;

/** A report as inputs: the whole list of a controller, or, where the source only told of some codes, one for each. */
export function inputsOf(report: FaultReport): FaultInput[] {
  if (report.isPartial !== true) return [report];
  const { machineId, timeMs, sourceAddress, lamps, flash } = report;
  return report.codes.map(
    (code): FaultNotice => ({
      machineId,
      timeMs,
      sourceAddress,
      kind: 'occurred',
      origin: 'feed',
      lamps,
      flash,
      ...code,
    }),
  );
}

/** Inputs of a machine after a time, oldest first, in slices that never part what has one time. */
export async function* readInputs(session: Session, machineId: string, afterMs: number): AsyncGenerator<FaultInput[]> {
  const typed = await readTyped(session, machineId, afterMs);
  for (let fromMs = afterMs; ; ) {
    const cut = await session.query({
      name: 'fault-slice-end',
      text: `SELECT at FROM fault_report WHERE machine_id = $1 AND at > $2 ORDER BY at OFFSET ${reportsPerSlice - 1} LIMIT 1`,
      values: [machineId, fromMs],
    });
    const toMs: number = (cut.rows[0]?.at as number | undefined) ?? Number.MAX_SAFE_INTEGER;
    const { rows } = await session.query({
      name: 'fault-slice',
      text: 'SELECT body FROM fault_report WHERE machine_id = $1 AND at > $2 AND at <= $3',
      values: [machineId, fromMs, toMs],
    });
    const reported = rows.flatMap(({ body }) => inputsOf({ machineId, ...body }));
    const own = typed.filter(({ timeMs }) => timeMs > fromMs && timeMs <= toMs);
    if (reported.length + own.length > 0) yield [...reported, ...own];
    if (cut.rows.length === 0) return;
    fromMs = toMs;
  }
}

async function readTyped(session: Session, machineId: string, afterMs: number): Promise<FaultNotice[]> {
  const { rows } = await session.query({
    name: 'typed-faults',
    text: 'SELECT body FROM fault_entry WHERE machine_id = $1 AND at > $2',
    values: [machineId, afterMs],
  });
  return rows.map(({ body }) => body);
}

/** Truth labels as lines of JSON. */

import type { TruthEvent } from '@warmbrick/simulator';

/** A line an event: `machineId`, `kind`, its times in RFC 3339 (`endedAt` null while it goes on), then what is said of it. */
export function truthLine(machineId: string, event: TruthEvent, isOver: boolean): string {
  const { kind, startedMs, endedMs, ...said } = event;
  const endedAt = isOver ? instant(endedMs) : null;
  const renamed = Object.entries(said).map(([name, value]) =>
    name.endsWith('Ms') ? [name.replace(/Ms$/, 'At'), instant(value as number)] : [name, value],
  );
  const line = { machineId, kind, startedAt: instant(startedMs), endedAt, ...Object.fromEntries(renamed) };
  return `${JSON.stringify(line)}\n`;
}

function instant(timeMs: number): string {
  return new Date(timeMs).toISOString();
}

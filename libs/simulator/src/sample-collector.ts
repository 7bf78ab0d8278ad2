/** Collects samples into the columns of a block. */

import { type Column, createColumn, quantiseColumn, type SampleBlock } from '@warmbrick/signals';
import type { SimulatedChannel } from './readings.js';

/** Columns that grow as samples come in; values are rounded to their channels when taken. */
export function createCollector(machineId: string, channels: readonly SimulatedChannel[]) {
  let capacity = 256;
  let length = 0;
  let timeMs = new Float64Array(capacity);
  let columns: Column[] = channels.map((name) => createColumn(name, capacity));
  const grow = (): void => {
    capacity *= 2;
    const wider = new Float64Array(capacity);
    wider.set(timeMs);
    timeMs = wider;
    columns = columns.map((old, c) => {
      const column = createColumn(channels[c] as SimulatedChannel, capacity);
      column.set(old);
      return column;
    });
  };
  return {
    add(atMs: number, values: readonly number[]): void {
      if (length === capacity) grow();
      timeMs[length] = atMs;
      for (let c = 0; c < columns.length; c++) (columns[c] as Column)[length] = values[c] as number;
      length++;
    },
    take(): SampleBlock | null {
      if (length === 0) return null;
      const taken = channels.map((name, c) => {
        const column = (columns[c] as Column).slice(0, length);
        quantiseColumn(name, column);
        return [name, column] as const;
      });
      const block: SampleBlock = { machineId, timeMs: timeMs.slice(0, length), channels: Object.fromEntries(taken) };
      length = 0;
      return block;
    },
  };
}

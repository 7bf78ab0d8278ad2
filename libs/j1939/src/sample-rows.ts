/** Finished samples waiting to be taken as a block. */

import { type ChannelName, type Column, channelNames, createColumn, type SampleBlock } from '@warmbrick/signals';

/** Samples reserved at first; doubles when full. */
const firstCapacity = 256;

/** Collects samples until they are taken; grows by doubling. */
export class SampleRows {
  #timeMs = new Float64Array(firstCapacity);
  #columns: (Column | undefined)[] = channelNames.map(() => undefined);
  #length = 0;

  /** Adds a sample; `values` are by channel in catalogue order, NaN where there is none. */
  add(timeMs: number, values: Float64Array): void {
    if (this.#length === this.#timeMs.length) this.#grow();
    this.#timeMs[this.#length] = timeMs;
    for (let c = 0; c < values.length; c++) {
      const value = values[c] as number;
      if (value !== value) continue;
      const column = this.#columns[c] ?? this.#addColumn(c);
      column[this.#length] = value;
    }
    this.#length++;
  }

  /** Everything added since the last call, or null. A channel without a single value is left out. */
  take(machineId: string): SampleBlock | null {
    if (this.#length === 0) return null;
    const columns: Partial<Record<ChannelName, Column>> = {};
    for (const [c, name] of channelNames.entries()) {
      const column = this.#columns[c];
      if (column) columns[name] = column.slice(0, this.#length);
    }
    const block = { machineId, timeMs: this.#timeMs.slice(0, this.#length), channels: columns };
    this.#columns = channelNames.map(() => undefined);
    this.#length = 0;
    return block;
  }

  #addColumn(channelIndex: number): Column {
    const column = createColumn(channelNames[channelIndex] as ChannelName, this.#timeMs.length);
    this.#columns[channelIndex] = column;
    return column;
  }

  #grow(): void {
    const timeMs = new Float64Array(this.#timeMs.length * 2);
    timeMs.set(this.#timeMs);
    this.#timeMs = timeMs;
    for (const [c, old] of this.#columns.entries()) {
      if (old) this.#addColumn(c).set(old);
    }
  }
}

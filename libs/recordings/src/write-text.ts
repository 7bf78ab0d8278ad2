/** Samples as lines of text: CSV and NDJSON. */

import { type ChannelName, type Column, channelNames, type SampleBlock } from '@warmbrick/signals';

/** One cell of CSV. Source: RFC 4180, 2.5-2.7. */
export function csvCell(text: string): string {
  return /[",;\t\r\n]/.test(text) || text !== text.trim() ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The header of a CSV of samples. */
export function csvHeader(channels: readonly ChannelName[]): string {
  return `${['machineId', 'time', ...channels].join(',')}\n`;
}

/** A block as rows of CSV; no value is a blank. */
export function csvRows(block: SampleBlock, channels: readonly ChannelName[]): string {
  const machine = csvCell(block.machineId);
  const columns = channels.map((name) => block.channels[name]);
  let text = '';
  for (let i = 0; i < block.timeMs.length; i++) {
    text += `${machine},${new Date(block.timeMs[i] as number).toISOString()}`;
    for (const column of columns) text += `,${column === undefined ? '' : valueText(column, i)}`;
    text += '\n';
  }
  return text;
}

/** A block as lines of JSON; a channel without a value is left out. */
export function ndjsonRows(block: SampleBlock): string {
  const machine = JSON.stringify(block.machineId);
  const columns = channelNames.flatMap((name) => {
    const column = block.channels[name];
    return column === undefined ? [] : [[name, column] as const];
  });
  let text = '';
  for (let i = 0; i < block.timeMs.length; i++) {
    text += `{"machineId":${machine},"time":"${new Date(block.timeMs[i] as number).toISOString()}"`;
    for (const [name, column] of columns) {
      const value = valueText(column, i);
      if (value !== '') text += `,"${name}":${value}`;
    }
    text += '}\n';
  }
  return text;
}

/** The shortest text that reads back as the same number; blank for none. */
function valueText(column: Column, at: number): string {
  const value = column[at] as number;
  return value === value ? shortest(value, column instanceof Float32Array) : '';
}

/** Digits that tell any two 32-bit floats apart. Source: IEEE 754-2019, 5.12.2. */
const floatDigits = 9;
const enoughDigits = 7;

function shortest(value: number, isNarrow: boolean): string {
  if (!isNarrow) return String(value);
  const short = Number(value.toPrecision(enoughDigits));
  return String(Math.fround(short) === value ? short : Number(value.toPrecision(floatDigits)));
}

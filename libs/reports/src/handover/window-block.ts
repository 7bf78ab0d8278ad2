/** Signals around an event on paper: the course and the values at some minutes. */

import type { SignalWindowDocument } from '@warmbrick/contracts';
import type { PrintBlock } from '../print/print-sheet.js';
import { windowEventRatio, windowMarksMin } from './signal-window.js';

/** The block of a window. */
export function windowBlock(title: string, { from, at, stepS, channels }: SignalWindowDocument): PrintBlock {
  const beforeS = (Date.parse(at) - Date.parse(from)) / 1000;
  const places = windowMarksMin.map((minutes) => Math.round((beforeS + minutes * 60) / stepS));
  return {
    kind: 'window',
    title,
    marks: windowMarksMin.map((minutes) => (minutes === 0 ? 'then' : `${minutes > 0 ? '+' : ''}${minutes} min`)),
    eventRatio: windowEventRatio,
    rows: channels.map(({ label, unit, values }) => ({
      label: unit === '' ? label : `${label}, ${unit}`,
      course: values,
      cells: places.map((place) => {
        const value = values[place];
        return value === null || value === undefined ? '-' : String(value);
      }),
    })),
  };
}

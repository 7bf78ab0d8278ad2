/** Findings of one machine before and after, as two lanes a kind over one axis of time. */

import type { MachineTrial } from '@warmbrick/tuning';
import { kindOfChange, type MachineComparison } from '@warmbrick/tuning';

const widthPx = 900;
const labelPx = 150;
const lanePx = 9;
const rowPx = 26;
const dayMs = 86_400_000;
/** Days that get a line; longer periods get one a week, and so on. */
const linesShown = 31;

/** The chart as SVG; kinds without a change are left out. Missing: an empty text when nothing changed. */
export function stripChart(comparison: MachineComparison): string {
  const kinds = [...new Set(comparison.changes.map(kindOfChange))].sort();
  const observed = comparison.after.summary?.observed;
  if (kinds.length === 0 || observed === undefined) return '';
  const spanMs = Math.max(1, observed.toMs - observed.fromMs);
  const x = (atMs: number) =>
    labelPx + (widthPx - labelPx) * Math.min(1, Math.max(0, (atMs - observed.fromMs) / spanMs));
  const heightPx = kinds.length * rowPx + 18;
  const rows = kinds.map((kind, k) => {
    const y = k * rowPx;
    const label = `<text x="0" y="${y + 15}">${kind}</text>`;
    return `${label}${lane(comparison.before, kind, { y: y + 3, x, name: 'before' })}${lane(comparison.after, kind, { y: y + 13, x, name: 'after' })}`;
  });
  const label = `Findings of ${comparison.machineId} before (upper lane) and after (lower lane)`;
  return `<div class="wide"><svg viewBox="0 0 ${widthPx} ${heightPx}" width="${widthPx}" role="img" aria-label="${label}">${dayLines(observed, x, heightPx)}${rows.join('')}</svg></div>`;
}

interface Lane {
  readonly y: number;
  readonly x: (atMs: number) => number;
  readonly name: 'before' | 'after';
}

function lane(trial: MachineTrial, kind: string, { y, x, name }: Lane): string {
  return trial.findings
    .filter(({ finding }) => finding.kind === kind)
    .map(({ finding }) => {
      const from = x(finding.startedMs);
      const to = x(finding.endedMs ?? finding.emittedMs);
      const width = Math.max(2, to - from).toFixed(1);
      return `<rect class="${name}" x="${from.toFixed(1)}" y="${y}" width="${width}" height="${lanePx}"/>`;
    })
    .join('');
}

function dayLines(
  observed: { readonly fromMs: number; readonly toMs: number },
  x: (atMs: number) => number,
  heightPx: number,
): string {
  const days = Math.max(1, Math.ceil((observed.toMs - observed.fromMs) / dayMs / linesShown));
  const stepMs = days * dayMs;
  const lines: string[] = [];
  for (let atMs = Math.ceil(observed.fromMs / stepMs) * stepMs; atMs <= observed.toMs; atMs += stepMs) {
    const at = x(atMs).toFixed(1);
    lines.push(`<line x1="${at}" x2="${at}" y1="0" y2="${heightPx - 14}"/>`);
    if (Number(at) < widthPx - 40) {
      lines.push(
        `<text class="quiet" x="${at}" y="${heightPx - 2}">${new Date(atMs).toISOString().slice(5, 10)}</text>`,
      );
    }
  }
  return thinned(lines);
}

/** Labels that would run into each other are left out. */
function thinned(lines: readonly string[]): string {
  const every = Math.ceil(lines.length / 24);
  return lines.filter((line, k) => line.startsWith('<line') || Math.floor(k / 2) % every === 0).join('');
}

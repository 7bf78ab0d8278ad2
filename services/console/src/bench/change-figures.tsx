import type { ChangeDocument, ComparisonDocument } from '@warmbrick/contracts';
import { findingSentence, kindName } from '../format/finding-words.js';
import { formatInstant } from '../format/instant.js';

type MachineChanges = ComparisonDocument['machines'][number];

/** Changes listed; the command gives all of them. */
const mostListed = 200;

/** How many findings there are of each kind before and after, and what became of them. */
export function ChangeTable({ document }: { readonly document: ComparisonDocument }) {
  const kinds = Object.entries(document.byKind);
  if (kinds.length === 0) return <p>Neither set finds anything in this time.</p>;
  const most = Math.max(...kinds.map(([, counts]) => Math.max(counts.before, counts.after)));
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a scrolling region must be reachable by keyboard
    <section class="wide" tabIndex={0} aria-label="Findings by kind">
      <table class="change-table">
        <thead>
          <tr>
            <th scope="col">Finding</th>
            <th scope="col">
              <span class="unseen">As bars</span>
            </th>
            {['Before', 'After', 'Appear', 'Vanish', 'Move', 'Change'].map((name) => (
              <th scope="col" key={name}>
                {name}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {kinds.map(([kind, counts]) => (
            <tr
              key={kind}
              class={
                counts.before + counts.appears === counts.after + counts.vanishes &&
                counts.appears + counts.vanishes + counts.moves + counts.changes === 0
                  ? 'same'
                  : 'differs'
              }
            >
              <th scope="row">{kindName(kind, 2)}</th>
              <td>
                <svg class="change-bars" viewBox="0 0 120 14" aria-hidden="true">
                  <rect class="mark-before" y="1" height="5" width={(120 * counts.before) / most} />
                  <rect class="mark-after" y="8" height="5" width={(120 * counts.after) / most} />
                </svg>
              </td>
              {[counts.before, counts.after, counts.appears, counts.vanishes, counts.moves, counts.changes].map(
                (count, k) => (
                  <td key={k}>{count === 0 && k > 1 ? '–' : count}</td>
                ),
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** Share of the findings that begin in each hour of the day, before over after. */
export function HourFigure({ machine, timeZone }: { readonly machine: MachineChanges; readonly timeZone: string }) {
  const before = new Array<number>(24).fill(0);
  const after = new Array<number>(24).fill(0);
  const hour = new Intl.DateTimeFormat('en', { timeZone, hour: '2-digit', hourCycle: 'h23' });
  const count = (hours: number[], finding: ChangeDocument['before']) => {
    if (finding === null) return;
    const at = Number(hour.format(Date.parse(finding.startedAt)));
    hours[at] = (hours[at] ?? 0) + 1;
  };
  for (const change of machine.changes) {
    if (change.type === 'vanishes' || change.type === 'moves') count(before, change.before);
    if (change.type === 'appears' || change.type === 'moves') count(after, change.after);
  }
  const most = Math.max(1, ...before, ...after);
  if (before.every((n) => n === 0) && after.every((n) => n === 0)) return null;
  return (
    <figure class="hour-figure">
      <figcaption>What vanishes and what appears, by hour of the day ({timeZone})</figcaption>
      <svg viewBox="0 0 480 92" role="img" aria-label="Findings that vanish and appear, by hour of the day">
        {before.map((n, h) => (
          <g key={h} transform={`translate(${h * 20} 0)`}>
            <rect class="mark-before" x="2" width="7" y={72 - (64 * n) / most} height={(64 * n) / most} />
            <rect
              class="mark-after"
              x="10"
              width="7"
              y={72 - (64 * (after[h] ?? 0)) / most}
              height={(64 * (after[h] ?? 0)) / most}
            />
            {h % 3 === 0 && (
              <text x="2" y="87">
                {String(h).padStart(2, '0')}
              </text>
            )}
          </g>
        ))}
      </svg>
    </figure>
  );
}

interface StripProps {
  readonly machine: MachineChanges;
  readonly span: { readonly fromMs: number; readonly toMs: number };
}

/** Where in time findings vanish, appear and change: two lanes for each kind. */
export function ChangeStrips({ machine, span }: StripProps) {
  const kinds = [...new Set(machine.changes.map(({ kind }) => kind))];
  if (kinds.length === 0) return null;
  const lengthMs = Math.max(1, span.toMs - span.fromMs);
  const part = (finding: NonNullable<ChangeDocument['before']>) => {
    const from = (Date.parse(finding.startedAt) - span.fromMs) / lengthMs;
    const to = ((finding.endedAt === null ? span.toMs : Date.parse(finding.endedAt)) - span.fromMs) / lengthMs;
    return { x: Math.max(0, from) * 1000, width: Math.max(2.5, (Math.min(1, to) - Math.max(0, from)) * 1000) };
  };
  return (
    <div class="strips">
      {kinds.map((kind) => (
        <div class="strip" key={kind}>
          <span>{kindName(kind, 2)}</span>
          <svg
            viewBox="0 0 1000 22"
            preserveAspectRatio="none"
            role="img"
            aria-label={`${kindName(kind, 2)} before and after`}
          >
            {machine.changes
              .filter((change) => change.kind === kind)
              .flatMap((change) => [
                change.before && (
                  <rect key={`b${change.before.id}`} class="mark-before" y="1" height="9" {...part(change.before)} />
                ),
                change.after && (
                  <rect key={`a${change.after.id}`} class="mark-after" y="12" height="9" {...part(change.after)} />
                ),
              ])}
          </svg>
        </div>
      ))}
      <p class="quiet strip-key">
        <i class="key-before" /> before <i class="key-after" /> after; only what differs is drawn
      </p>
    </div>
  );
}

const typeWords = { appears: 'Appears', vanishes: 'Vanishes', moves: 'Moves', changes: 'Changes' } as const;

/** Every change in words. */
export function ChangeList({ machine, timeZone }: { readonly machine: MachineChanges; readonly timeZone: string }) {
  const nowMs = Date.now();
  const shown = machine.changes.slice(0, mostListed);
  return (
    <ol class="change-list">
      {shown.map((change) => {
        const finding = change.after ?? change.before;
        if (finding === null) return null;
        return (
          <li key={`${change.type}${finding.id}`}>
            <b>{typeWords[change.type]}</b>{' '}
            <time dateTime={finding.startedAt}>{formatInstant(Date.parse(finding.startedAt), timeZone, nowMs)}</time>{' '}
            {findingSentence(finding, nowMs)}
            {change.before !== null && change.after !== null && change.before.severity !== change.after.severity && (
              <span class="quiet">
                {' '}
                ({change.before.severity} → {change.after.severity})
              </span>
            )}
          </li>
        );
      })}
      {machine.changes.length > shown.length && <li>and {machine.changes.length - shown.length} more</li>}
    </ol>
  );
}

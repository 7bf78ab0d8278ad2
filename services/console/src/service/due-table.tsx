import type { ServiceDueDocument } from '@warmbrick/contracts';
import { formatDay } from '../format/instant.js';
import { Pile } from '../parts/pile.js';
import { tableRoles } from '../parts/table-roles.js';
import { hoursWords, intervalWords, stateBricks, stateWords } from './service-words.js';

interface DueTableProps {
  readonly due: readonly ServiceDueDocument[];
  readonly timeZone: string;
  readonly nowMs: number;
}

const urgency: readonly ServiceDueDocument['state'][] = ['overdue', 'soon', 'fine', 'never-recorded'];

/** Every item of the profile, the most urgent first. */
export function DueTable({ due, timeZone, nowMs }: DueTableProps) {
  const rows = [...due].sort((a, b) => urgency.indexOf(a.state) - urgency.indexOf(b.state));
  const day = (instant: string | null) => (instant === null ? '–' : dayWithYear(Date.parse(instant), timeZone, nowMs));
  return (
    <section aria-labelledby="due-title">
      <h2 id="due-title">What is due</h2>
      <table class="figures due-figures" {...tableRoles.table} aria-labelledby="due-title">
        <thead>
          <tr>
            <th scope="col">Work</th>
            <th scope="col">How it stands</th>
            <th scope="col">Falls due</th>
            <th scope="col">Done last</th>
            <th scope="col">Hours since</th>
          </tr>
        </thead>
        <tbody {...tableRoles.rowGroup}>
          {rows.map((row) => (
            <tr key={row.item} {...tableRoles.row}>
              <th scope="row" {...tableRoles.rowHeader}>
                {row.name}
                <span class="quiet due-interval">
                  {intervalWords(row.interval)} · {row.source}
                </span>
              </th>
              <td {...tableRoles.cell}>
                <span class="due-state">
                  <Pile filled={stateBricks(row.state)} tone="severity" />
                  {stateWords(row)}
                </span>
              </td>
              <td {...tableRoles.cell}>
                <span class="card-label">Falls due </span>
                {day(row.dueAt)}
                {row.dueBy === 'hours' && row.state !== 'overdue' && <span class="quiet"> at recent use</span>}
              </td>
              <td {...tableRoles.cell}>
                <span class="card-label">Done last </span>
                {day(row.lastAt)}
              </td>
              <td {...tableRoles.cell}>
                <span class="card-label">Hours since </span>
                {row.usedHours === null ? '–' : hoursWords(row.usedHours)}
                {row.usedBasis === 'observed-running' && <span class="quiet"> observed</span>}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function dayWithYear(timeMs: number, timeZone: string, nowMs: number): string {
  const isFar = Math.abs(timeMs - nowMs) > 180 * 86_400_000;
  const year = new Intl.DateTimeFormat('en', { year: 'numeric', timeZone }).format(timeMs);
  return isFar ? `${formatDay(timeMs, timeZone)} ${year}` : formatDay(timeMs, timeZone);
}

import type { FindingDocument } from '@warmbrick/contracts';
import { findingSentence, kindMeaning, kindName, severityRank } from '../format/finding-words.js';
import { formatInstant, zoneLabel } from '../format/instant.js';
import { valueWords } from '../format/value-words.js';
import { Pile } from '../parts/pile.js';
import { rangeAround, rangeToQuery } from '../record/time-range.js';
import { units } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { setQuery } from '../routing/location.js';

interface FindingEntryProps {
  readonly finding: FindingDocument;
  readonly timeZone: string;
  readonly nowMs: number;
}

/** One finding: what, when, how grave; its figures unfold. */
export function FindingEntry({ finding, timeZone, nowMs }: FindingEntryProps) {
  const startedMs = Date.parse(finding.startedAt);
  const endedMs = finding.endedAt === null ? null : Date.parse(finding.endedAt);
  const show = () => {
    setQuery(rangeToQuery(rangeAround(startedMs, endedMs ?? nowMs)), 'push');
    document.getElementById('record-title')?.scrollIntoView();
  };
  return (
    <li class={`finding severity-${finding.severity}`}>
      <details>
        <summary>
          <Pile filled={severityRank(finding.severity)} tone="severity" />
          <span class="finding-severity">{finding.severity}</span>
          <span class="finding-words">
            <b>{findingSentence(finding, nowMs)}</b> <span class="finding-kind">{kindName(finding.kind)}</span>
          </span>
          <span class="finding-time">
            {formatInstant(startedMs, timeZone, nowMs)}
            {endedMs === null ? ', still going on' : ` to ${formatInstant(endedMs, timeZone, nowMs)}`}
          </span>
        </summary>
        <div class="finding-body">
          <p>{kindMeaning(finding.kind)}</p>
          <div class="finding-figures">
            <Figures title="Figures" values={finding.values} timeZone={timeZone} nowMs={nowMs} />
            <Figures title="Evidence" values={finding.evidence} timeZone={timeZone} nowMs={nowMs} />
          </div>
          <p class="quiet">
            Threshold set {finding.thresholdSet}. Times in {zoneLabel(timeZone, startedMs)}.
          </p>
          {finding.kind === 'derate' && (
            <p>
              <Link to={`/machines/${encodeURIComponent(finding.machineId)}/derates`}>Which fault began it</Link>
            </p>
          )}
          <button type="button" onClick={show}>
            Show on the charts
          </button>
        </div>
      </details>
    </li>
  );
}

interface FiguresProps {
  readonly title: string;
  readonly values: FindingDocument['values'];
  readonly timeZone: string;
  readonly nowMs: number;
}

function Figures({ title, values, timeZone, nowMs }: FiguresProps) {
  const view = { units: units.value, timeZone, nowMs };
  const rows = Object.entries(values).map(([name, value]) => ({ name, ...valueWords(name, value, view) }));
  if (rows.length === 0) return null;
  return (
    <table class="figures">
      <caption>{title}</caption>
      <tbody>
        {rows.map((row) => (
          <tr key={row.name}>
            <th scope="row">{row.label}</th>
            <td>{row.text}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

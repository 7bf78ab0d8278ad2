import type { FaultLine } from '@warmbrick/contracts';
import { tableRoles } from '../parts/table-roles.js';
import { classWords, lampWords, wordsFrom } from './derate-words.js';

interface FaultRowProps {
  readonly line: FaultLine;
  readonly written: (at: string) => string;
}

/** One code of one controller; its times unfold. */
export function FaultRow({ line, written }: FaultRowProps) {
  const { spn, fmi, spnWords, fmiWords, occurrences, reportedCount, firstAt, lastAt, isActive, episodes } = line;
  const whose = wordsFrom(line.wordsFrom);
  return (
    <tr {...tableRoles.row}>
      <th scope="row" {...tableRoles.rowHeader}>
        <details>
          <summary>
            <b>
              {spnWords}: {fmiWords}
            </b>
            <span class="quiet">
              SPN {spn} FMI {fmi}
              {line.sourceAddress === null ? '' : `, controller ${line.sourceAddress}`}
              {whose === null ? '' : `, ${whose}`}
            </span>
            <RoleNote line={line} />
          </summary>
          <p class="quiet">Lamps: {lampWords(line.lamps)}.</p>
          <ol class="fault-times">
            {episodes.map((episode) => (
              <li key={episode.id}>{timeWords(episode, written)}</li>
            ))}
          </ol>
          {occurrences > episodes.length && <p class="quiet">and {occurrences - episodes.length} earlier</p>}
        </details>
      </th>
      <td {...tableRoles.cell}>
        <span class="card-label">Times </span>
        {occurrences}
        {reportedCount !== null && <span class="quiet"> (counts {reportedCount})</span>}
      </td>
      <td {...tableRoles.cell}>
        <span class="card-label">First </span>
        {written(firstAt)}
      </td>
      <td {...tableRoles.cell}>
        <span class="card-label">Last </span>
        {written(lastAt)}
      </td>
      <td {...tableRoles.cell}>
        <span class="card-label">State </span>
        {isActive ? <b>active</b> : 'not active'}
      </td>
    </tr>
  );
}

function RoleNote({ line: { isConsequence, inducementClass } }: { readonly line: FaultLine }) {
  if (isConsequence) return <span class="fault-role">says that power is taken, not why</span>;
  return inducementClass === null ? null : (
    <span class="fault-role">can take power: {classWords(inducementClass)}</span>
  );
}

function timeWords(episode: FaultLine['episodes'][number], written: (at: string) => string): string {
  const by = episode.origin === 'typed' ? ', typed by hand' : episode.origin === 'feed' ? ', from a feed' : '';
  if (episode.isPreviouslyActiveOnly) return `told as previously active at ${written(episode.startedAt)}${by}`;
  if (episode.endedAt === null) return `from ${written(episode.startedAt)}, still active${by}`;
  const end =
    episode.endedBy === 'unknown' ? `last told of ${written(episode.endedAt)}` : `to ${written(episode.endedAt)}`;
  return `from ${written(episode.startedAt)} ${end}${by}`;
}

import { useSignal } from '@preact/signals';
import type { AuditEntryDocument, Problem } from '@warmbrick/contracts';
import { useEffect } from 'preact/hooks';
import { api } from '../api/client.js';
import { formatInstant } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';

const pageSize = 50;

/** What was done by whom, newest first, and whether the log is whole. */
export function AuditList() {
  const entries = useSignal<readonly AuditEntryDocument[] | null>(null);
  const nextCursor = useSignal<string | null>(null);
  const problem = useSignal<Problem | null>(null);
  const load = async (cursor: string | null) => {
    const answer = await api.getAudit({ query: { limit: pageSize, ...(cursor === null ? {} : { cursor }) } });
    if (answer === null) return;
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    entries.value = [...(cursor === null ? [] : (entries.value ?? [])), ...answer.body.items];
    nextCursor.value = answer.body.nextCursor;
  };
  useEffect(() => void load(null), []);
  return (
    <section aria-labelledby="audit-title">
      <h2 id="audit-title">What was done</h2>
      <ChainCheck />
      {problem.value !== null && <ProblemNote problem={problem.value} retry={() => load(null)} />}
      {entries.value === null && problem.value === null && <LoadingNote what="the log" />}
      {entries.value?.length === 0 && <p class="nothing">Nothing was changed yet.</p>}
      {entries.value !== null && entries.value.length > 0 && (
        <table class="figures settings-figures" {...tableRoles.table} aria-label="What was done">
          <thead>
            <tr>
              <th scope="col">When (UTC)</th>
              <th scope="col">Who</th>
              <th scope="col">What</th>
              <th scope="col">Of what</th>
              <th scope="col">With</th>
            </tr>
          </thead>
          <tbody {...tableRoles.rowGroup}>
            {entries.value.map((entry) => (
              <tr key={entry.number} {...tableRoles.row}>
                <th scope="row" {...tableRoles.rowHeader}>
                  {formatInstant(Date.parse(entry.at), 'UTC', Date.now())}
                </th>
                <td {...tableRoles.cell}>{entry.actorName === '' ? entry.actorId : entry.actorName}</td>
                <td {...tableRoles.cell}>{entry.action}</td>
                <td {...tableRoles.cell}>{entry.target}</td>
                <td {...tableRoles.cell} class="audit-detail">
                  {entry.detail === '{}' ? '' : entry.detail}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {nextCursor.value !== null && (
        <button type="button" onClick={() => load(nextCursor.value)}>
          Show earlier ones
        </button>
      )}
    </section>
  );
}

function ChainCheck() {
  const words = useSignal<string | null>(null);
  const check = async () => {
    const answer = await api.getAuditCheck();
    if (answer === null) return;
    if (!answer.ok) words.value = answer.problem.title;
    else if (answer.body.brokenAt === null) words.value = `All ${answer.body.entries} entries follow from one another.`;
    else words.value = `Entry ${answer.body.brokenAt} does not follow from the one before: the log was tampered with.`;
  };
  return (
    <p class="chain-check">
      <button type="button" class="plain" onClick={check}>
        Check that the log is whole
      </button>{' '}
      <span role="status">{words.value}</span>
    </p>
  );
}

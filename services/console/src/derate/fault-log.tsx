import { useSignal } from '@preact/signals';
import type { FaultLine, FaultSort } from '@warmbrick/contracts';
import { useEffect } from 'preact/hooks';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { useCall } from '../api/use-call.js';
import { formatInstant } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';
import { query, setQuery } from '../routing/location.js';
import { FaultRow } from './fault-row.js';

interface FaultLogProps {
  readonly machineId: string;
  readonly timeZone: string;
  readonly version: number;
}

const sorts: readonly (readonly [FaultSort, string])[] = [
  ['time', 'seen last first'],
  ['occurrence', 'most often first'],
  ['first', 'first to occur first'],
];
const pageSize = 100;

/** Every code that ever occurred, by occurrence or by time. */
export function FaultLog({ machineId, timeZone, version }: FaultLogProps) {
  const sort = sorts.find(([name]) => name === query.value.get('log'))?.[0] ?? 'time';
  const onlyActive = query.value.get('active') === '1';
  const path = { machineId };
  const asked = { sort, limit: pageSize, ...(onlyActive ? { state: 'active' as const } : {}) };
  const answer = useCall(
    (signal) => api.getMachineFaults({ path, query: asked, signal }),
    `${machineId} ${sort} ${onlyActive} ${version}`,
  ).value;
  const more = useSignal<readonly FaultLine[]>([]);
  const cursor = useSignal<string | null>(null);
  useEffect(() => {
    more.value = [];
    cursor.value = answer?.ok === true ? answer.body.nextCursor : null;
  }, [answer, more, cursor]);
  const fetchMore = async () => {
    const next = await api.getMachineFaults({ path, query: { ...asked, cursor: cursor.value ?? '' } });
    if (next?.ok !== true) return;
    more.value = [...more.value, ...next.body.items];
    cursor.value = next.body.nextCursor;
  };
  const lines = answer?.ok === true ? [...answer.body.items, ...more.value] : [];
  return (
    <section class="fault-log" aria-labelledby="log-title">
      <div class="section-head">
        <h2 id="log-title">Fault log</h2>
        <div class="log-controls">
          <label class="choice">
            <span>Order</span>
            <select value={sort} onChange={(event) => setQuery({ log: event.currentTarget.value })}>
              {sorts.map(([value, words]) => (
                <option key={value} value={value}>
                  {words}
                </option>
              ))}
            </select>
          </label>
          <label class="tick">
            <input
              type="checkbox"
              checked={onlyActive}
              onChange={(event) => setQuery({ active: event.currentTarget.checked ? '1' : null })}
            />
            only active ones
          </label>
        </div>
      </div>
      {answer === null && <LoadingNote what="the fault log" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={() => setQuery({ log: null })} />}
      {answer?.ok === true && lines.length === 0 && <p>No code {onlyActive ? 'is active' : 'was ever told of'}.</p>}
      {lines.length > 0 && <LogTable lines={lines} timeZone={timeZone} />}
      {cursor.value !== null && (
        <button type="button" class="more" onClick={fetchMore}>
          More codes
        </button>
      )}
    </section>
  );
}

function LogTable({ lines, timeZone }: { readonly lines: readonly FaultLine[]; readonly timeZone: string }) {
  const now = nowMs.peek();
  const written = (at: string) => formatInstant(Date.parse(at), timeZone, now);
  return (
    <table class="figures log-table" {...tableRoles.table} aria-labelledby="log-title">
      <thead>
        <tr>
          <th scope="col">Code</th>
          <th scope="col">Times</th>
          <th scope="col">First</th>
          <th scope="col">Last</th>
          <th scope="col">State</th>
        </tr>
      </thead>
      <tbody {...tableRoles.rowGroup}>
        {lines.map((line) => (
          <FaultRow key={line.code} line={line} written={written} />
        ))}
      </tbody>
    </table>
  );
}

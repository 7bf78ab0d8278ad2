import { useSignal } from '@preact/signals';
import type { MachineService, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { formatInstant } from '../format/instant.js';
import { hoursWords } from './service-words.js';

interface RecordTableProps {
  readonly service: MachineService;
  readonly timeZone: string;
  readonly nowMs: number;
  readonly reload: () => void;
}

/** What was done, the latest first; a slip can be taken back. */
export function RecordTable({ service, timeZone, nowMs, reload }: RecordTableProps) {
  const problem = useSignal<Problem | null>(null);
  const names = new Map(service.due.map(({ item, name }) => [item, name]));
  const takeBack = async (id: string, name: string) => {
    if (!confirm(`Take back the record "${name}"?`)) return;
    const answer = await api.deleteMachineService({ path: { machineId: service.machineId, recordId: id } });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) reload();
  };
  return (
    <section aria-labelledby="done-title">
      <h2 id="done-title">What was done</h2>
      {problem.value !== null && (
        <p class="problem" role="alert">
          {problem.value.detail ?? problem.value.title}
        </p>
      )}
      {service.records.length === 0 && <p class="quiet">Nothing is written down yet.</p>}
      <ol class="done-list">
        {service.records.map((record) => {
          const name = names.get(record.item) ?? record.item;
          return (
            <li key={record.id}>
              <strong>{name}</strong>
              <span class="quiet">
                {formatInstant(Date.parse(record.at), timeZone, nowMs)}
                {record.engineHours !== null && `, at ${hoursWords(record.engineHours)}`}, {record.recordedBy}
              </span>
              {record.note !== '' && <span>{record.note}</span>}
              <button type="button" class="plain" onClick={() => takeBack(record.id, name)}>
                Take back
              </button>
            </li>
          );
        })}
      </ol>
    </section>
  );
}

import { useSignal } from '@preact/signals';
import type { ShiftList } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { formatDay, zoneLabel, zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { query, setQuery } from '../routing/location.js';
import { ShiftCard } from './shift-card.js';

const dayMs = 86_400_000;

/** How a machine was started, worked, stopped and filled, shift by shift, with what its operators ticked. */
export function ShiftPage({ machineId }: { readonly machineId: string }) {
  const tries = useSignal(0);
  const until = query.value.get('until');
  const answer = useCall(
    (signal) => api.getMachineShifts({ path: { machineId }, query: rangeUntil(until), signal }),
    `${machineId} ${until} ${tries.value}`,
  ).value;
  const again = () => {
    tries.value++;
  };
  const list = answer?.ok === true ? answer.body : null;
  return (
    <article class="shifts">
      <p class="crumb">
        <Link to={`/machines/${encodeURIComponent(machineId)}`}>Back to the machine</Link>
      </p>
      <PageTitle text={list === null ? 'Shifts' : `Shifts of ${list.machineName}`} />
      {answer === null && <LoadingNote what="the shifts" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={again} />}
      {list !== null && <Shifts list={list} reload={again} />}
    </article>
  );
}

function Shifts({ list, reload }: { readonly list: ShiftList; readonly reload: () => void }) {
  const timeZone = zoneOf(zoneChoice.value, list.timeZone);
  const oldest = list.items.at(-1);
  const newest = list.items[0];
  return (
    <>
      <p class="quiet">{newest !== undefined && <>Clock: {zoneLabel(timeZone, Date.parse(newest.startedAt))}</>}</p>
      {list.items.length === 0 && <p class="nothing">No shift of this machine lies in this time.</p>}
      {list.items.map((shift) => (
        <ShiftCard key={shift.startedAt + shift.name} {...{ shift, timeZone, reload }} machineId={list.machineId} />
      ))}
      <p class="shift-steps">
        {oldest !== undefined && (
          <button type="button" onClick={() => setQuery({ until: oldest.startedAt }, 'push')}>
            Before {formatDay(Date.parse(oldest.startedAt), timeZone)}
          </button>
        )}
        {query.value.get('until') !== null && (
          <button type="button" onClick={() => setQuery({ until: null }, 'push')}>
            The latest shifts
          </button>
        )}
      </p>
    </>
  );
}

function rangeUntil(until: string | null) {
  const untilMs = until === null ? Number.NaN : Date.parse(until);
  if (Number.isNaN(untilMs)) return {};
  return { from: new Date(untilMs - 2 * dayMs).toISOString(), to: new Date(untilMs).toISOString() };
}

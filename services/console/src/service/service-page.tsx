import { useSignal } from '@preact/signals';
import type { MachineService } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { formatInstant, zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { DueTable } from './due-table.js';
import { RecordForm } from './record-form.js';
import { RecordTable } from './record-table.js';
import { hoursWords } from './service-words.js';

/** What service a machine is due for, what was done, and writing down what was done now. */
export function ServicePage({ machineId }: { readonly machineId: string }) {
  const tries = useSignal(0);
  const answer = useCall(
    (signal) => api.getMachineService({ path: { machineId }, signal }),
    `${machineId} ${tries.value}`,
  ).value;
  const reload = () => {
    tries.value++;
  };
  const service = answer?.ok === true ? answer.body : null;
  return (
    <article class="service">
      <p class="crumb">
        <Link to={`/machines/${encodeURIComponent(machineId)}`}>Back to the machine</Link>{' '}
        <Link to="/def-stock">DEF in storage</Link>
      </p>
      <PageTitle text={service === null ? 'Service' : `Service of ${service.name}`} />
      {answer === null && <LoadingNote what="the service" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={reload} />}
      {service !== null && <ServiceBody service={service} reload={reload} />}
    </article>
  );
}

function ServiceBody({ service, reload }: { readonly service: MachineService; readonly reload: () => void }) {
  const timeZone = zoneOf(zoneChoice.value, service.timeZone);
  const nowMs = Date.parse(service.at);
  const { engineHours } = service;
  return (
    <>
      <p class="quiet">
        {engineHours === null
          ? 'This machine sends no hour meter; hours are those of the running that was observed, or fewer than the truth.'
          : `Hour meter ${hoursWords(engineHours.value)}, ${formatInstant(Date.parse(engineHours.at), timeZone, nowMs)}.`}{' '}
        The manual of the machine comes first; intervals are set in its profile.
      </p>
      <DueTable due={service.due} timeZone={timeZone} nowMs={nowMs} />
      <div class="pair">
        <RecordForm service={service} reload={reload} />
        <RecordTable service={service} timeZone={timeZone} nowMs={nowMs} reload={reload} />
      </div>
    </>
  );
}

import { useSignal } from '@preact/signals';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { Link } from '../routing/link.js';
import { DeliveryLogView } from './delivery-log-view.js';
import { DestinationCard } from './destination-card.js';
import { DestinationForm } from './destination-form.js';

/** Who is told of alerts, and what became of each message. */
export function DestinationsPage() {
  const tries = useSignal(0);
  const answer = useCall((signal) => api.getDestinations({ signal }), String(tries.value)).value;
  const reload = () => {
    tries.value++;
  };
  return (
    <article class="service">
      <p class="crumb">
        <Link to="/alerts">Back to the alerts</Link>
      </p>
      <PageTitle text="Who is told" />
      {answer === null && <LoadingNote what="the destinations" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={reload} />}
      {answer?.ok === true && (
        <>
          {answer.body.items.length === 0 && (
            <p class="nothing">Nobody is told of alerts yet; they stand on the page.</p>
          )}
          {answer.body.items.map((destination) => (
            <DestinationCard key={destination.id} destination={destination} reload={reload} />
          ))}
          <DestinationForm reload={reload} />
          <DeliveryLogView names={new Map(answer.body.items.map(({ id, name }) => [id, name]))} />
        </>
      )}
    </article>
  );
}

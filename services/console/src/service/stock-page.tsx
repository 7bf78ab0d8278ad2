import { useSignal } from '@preact/signals';
import type { DefBatchDocument, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { formatQuantity } from '../format/unit-system.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { Pile } from '../parts/pile.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';
import { units } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { batchWords } from './service-words.js';
import { StockForm } from './stock-form.js';

/** Batches of DEF in storage: how long each keeps, and which to use next. */
export function StockPage() {
  const tries = useSignal(0);
  const answer = useCall((signal) => api.getDefStock({ signal }), String(tries.value)).value;
  const reload = () => {
    tries.value++;
  };
  return (
    <article class="service">
      <p class="crumb">
        <Link to="/">Back to the fleet</Link>
      </p>
      <PageTitle text="DEF in storage" />
      <p class="quiet prose">
        DEF keeps for a time that its temperature sets, by the guide of ISO 22241-3; how old it was when it was bought
        is not known here. Store it between -5 and 20 °C, out of the sun, and buy what will be used. It eats some metals
        and is no fuel additive. Past its life, or stored over 35 °C, it is tested before use.
      </p>
      {answer === null && <LoadingNote what="the batches" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={reload} />}
      {answer?.ok === true && <Batches batches={answer.body.items} reload={reload} />}
      <StockForm reload={reload} />
    </article>
  );
}

function Batches({ batches, reload }: { readonly batches: readonly DefBatchDocument[]; readonly reload: () => void }) {
  const problem = useSignal<Problem | null>(null);
  if (batches.length === 0) return <p class="nothing">No batch is written down yet.</p>;
  const remove = async ({ id, name }: DefBatchDocument) => {
    if (!confirm(`Take the batch "${name}" off the list?`)) return;
    const answer = await api.deleteDefStock({ path: { batchId: id } });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) reload();
  };
  const bricks = { good: 1, 'use-soon': 2, past: 3 } as const;
  return (
    <section aria-label="Batches">
      {problem.value !== null && (
        <p class="problem" role="alert">
          {problem.value.detail ?? problem.value.title}
        </p>
      )}
      <table class="figures due-figures" {...tableRoles.table} aria-label="Batches of DEF">
        <thead>
          <tr>
            <th scope="col">Batch</th>
            <th scope="col">How it stands</th>
            <th scope="col">Good until</th>
            <th scope="col">Left</th>
            <th scope="col">Stored at</th>
            <th scope="col">
              <span class="unseen">Take off</span>
            </th>
          </tr>
        </thead>
        <tbody {...tableRoles.rowGroup}>
          {batches.map((batch) => (
            <tr key={batch.id} {...tableRoles.row}>
              <th scope="row" {...tableRoles.rowHeader}>
                {batch.name}
                <span class="quiet due-interval">
                  bought {batch.purchasedOn}
                  {batch.site !== null && `, ${batch.site}`}
                  {batch.note !== '' && ` · ${batch.note}`}
                </span>
              </th>
              <td {...tableRoles.cell}>
                <span class="due-state">
                  <Pile filled={bricks[batch.state]} tone="severity" />
                  {batchWords(batch)}
                </span>
              </td>
              <td {...tableRoles.cell}>
                <span class="card-label">Good until </span>
                {batch.goodUntil.slice(0, 10)}
              </td>
              <td {...tableRoles.cell}>
                <span class="card-label">Left </span>
                {formatQuantity(batch.leftL, 'L', units.value)} of {formatQuantity(batch.quantityL, 'L', units.value)}
              </td>
              <td {...tableRoles.cell}>
                <span class="card-label">Stored at </span>
                {formatQuantity(batch.storageTempC, 'degC', units.value)}
              </td>
              <td {...tableRoles.cell}>
                <button type="button" class="plain" onClick={() => remove(batch)}>
                  Take off
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

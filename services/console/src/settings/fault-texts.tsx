import type { CallerDocument, FaultTexts as FaultTextsDocument } from '@warmbrick/contracts';
import { api, type PutFaultTextsBody } from '../api/client.js';
import { FleetPicker } from '../parts/fleet-picker.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';
import { inFleet } from '../routing/fleet-choice.js';
import { FaultTextForm, type OwnCode } from './fault-text-form.js';
import { useList } from './use-list.js';

type Item = FaultTextsDocument['items'][number];

/** The fleet's own words for codes that the built-in table does not know or says otherwise. */
export function FaultTexts({ caller }: { readonly caller: CallerDocument }) {
  const query = inFleet.value;
  const list = useList<Item>(() => api.getFaultTexts({ query }));
  const isWriter = caller.role === 'engineer' || caller.role === 'admin';
  /** What others have written since the page was loaded stays. */
  const replace = async (code: OwnCode, by: OwnCode | null) => {
    const standing = await api.getFaultTexts({ query });
    if (standing?.ok !== true) return (await list.change(Promise.resolve(standing))) !== null;
    const others = standing.body.items.map(bare).filter((one) => one.spn !== code.spn || one.fmi !== code.fmi);
    const items = (by === null ? others : [...others, by]) as PutFaultTextsBody['items'];
    return (await list.change(api.putFaultTexts({ query, body: { items } }))) !== null;
  };
  return (
    <section aria-labelledby="codes-title">
      <h2 id="codes-title">Fault codes in your own words</h2>
      <p class="quiet">
        For the makers’ own codes, and wherever the built-in words do not fit your machines. They go before the built-in
        ones, and derates are looked into anew. The manufacturer’s manual says what a code means.
      </p>
      <FleetPicker />
      {list.problem.value !== null && <ProblemNote problem={list.problem.value} retry={list.load} />}
      {list.items.value === null && list.problem.value === null && <LoadingNote what="the codes" />}
      {list.items.value?.length === 0 && <p class="nothing">None so far: the built-in words hold.</p>}
      {list.items.value !== null && list.items.value.length > 0 && (
        <table class="figures settings-figures" {...tableRoles.table} aria-label="Codes in your own words">
          <thead>
            <tr>
              <th scope="col">Code</th>
              <th scope="col">Words</th>
              <th scope="col">Takes power</th>
              <th scope="col">Look at first</th>
              <th scope="col">Change</th>
            </tr>
          </thead>
          <tbody {...tableRoles.rowGroup}>
            {list.items.value.map((item) => (
              <CodeRow
                key={`${item.spn} ${item.fmi}`}
                item={item}
                takeOut={isWriter ? () => replace(item, null) : null}
              />
            ))}
          </tbody>
        </table>
      )}
      {isWriter && <FaultTextForm save={(code) => replace(code, code)} />}
    </section>
  );
}

function bare({ changedBy: _by, changedAt: _at, ...code }: Item): OwnCode {
  return code;
}

interface CodeRowProps {
  readonly item: Item;
  /** Null for who may only read. */
  readonly takeOut: (() => void) | null;
}

function CodeRow({ item, takeOut }: CodeRowProps) {
  const { spn, fmi, text, isDerateCode, derates, checkFirst, changedBy } = item;
  const code = `SPN ${spn} ${fmi === null ? 'any FMI' : `FMI ${fmi}`}`;
  return (
    <tr {...tableRoles.row}>
      <th scope="row" {...tableRoles.rowHeader}>
        {code}
      </th>
      <td {...tableRoles.cell}>
        {text} <span class="quiet">by {changedBy}</span>
      </td>
      <td {...tableRoles.cell}>
        <span class="card-label">Takes power: </span>
        {isDerateCode ? 'only says that power is cut' : (derates ?? 'as built in')}
      </td>
      <td {...tableRoles.cell}>
        <span class="card-label">Look at first: </span>
        {checkFirst ?? '–'}
      </td>
      <td {...tableRoles.cell}>
        {takeOut !== null && (
          <button type="button" class="plain" onClick={takeOut} aria-label={`Take out ${code}`}>
            Take out
          </button>
        )}
      </td>
    </tr>
  );
}

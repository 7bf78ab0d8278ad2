import { useSignal } from '@preact/signals';
import type { CallerDocument, FreshKeyDocument, KeyDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { formatInstant } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';
import { KeyForm } from './key-form.js';
import { scopeWords } from './scope-words.js';
import { useList } from './use-list.js';

/** The keys there are, and making, turning over and revoking them. */
export function KeyList({ caller }: { readonly caller: CallerDocument }) {
  const list = useList<KeyDocument>(() => api.getKeys());
  const fresh = useSignal<FreshKeyDocument | null>(null);
  const turn = async (key: KeyDocument) => {
    fresh.value = await list.change(api.postKeyRotate({ path: { keyId: key.keyId }, body: {} }));
  };
  const revoke = async (key: KeyDocument) => {
    if (!confirm(`Revoke the key "${key.name}"? Whoever uses it is locked out at once.`)) return;
    await list.change(api.deleteKey({ path: { keyId: key.keyId } }));
  };
  return (
    <section aria-labelledby="keys-title">
      <h2 id="keys-title">Keys</h2>
      {typeof fresh.value?.key === 'string' && <FreshKey name={fresh.value.name} text={fresh.value.key} />}
      {list.problem.value !== null && <ProblemNote problem={list.problem.value} retry={list.load} />}
      {list.items.value === null && list.problem.value === null && <LoadingNote what="the keys" />}
      {list.items.value?.length === 0 && <p class="nothing">There is no key yet.</p>}
      {list.items.value !== null && list.items.value.length > 0 && (
        <table class="figures settings-figures" {...tableRoles.table} aria-label="Keys">
          <thead>
            <tr>
              <th scope="col">Name</th>
              <th scope="col">May act as</th>
              <th scope="col">For</th>
              <th scope="col">Good until</th>
              <th scope="col">Last used</th>
              <th scope="col">Change</th>
            </tr>
          </thead>
          <tbody {...tableRoles.rowGroup}>
            {list.items.value.map((key) => (
              <KeyRow key={key.keyId} item={key} turn={turn} revoke={revoke} />
            ))}
          </tbody>
        </table>
      )}
      <KeyForm
        caller={caller}
        make={async (body) => {
          fresh.value = await list.change(api.postKeys({ body }));
          return fresh.value !== null;
        }}
      />
    </section>
  );
}

interface KeyRowProps {
  readonly item: KeyDocument;
  readonly turn: (key: KeyDocument) => void;
  readonly revoke: (key: KeyDocument) => void;
}

function KeyRow({ item, turn, revoke }: KeyRowProps) {
  const isLive = item.state === 'live';
  return (
    <tr {...tableRoles.row} class={isLive ? undefined : 'ended'}>
      <th scope="row" {...tableRoles.rowHeader}>
        {item.name} <span class="quiet">{item.secrets[0]?.hint}…</span>
      </th>
      <td {...tableRoles.cell}>{item.role}</td>
      <td {...tableRoles.cell}>{scopeWords(item.fleets)}</td>
      <td {...tableRoles.cell}>
        <span class="card-label">Good until: </span>
        {isLive ? day(item.expiresAt, 'no end') : item.state}
      </td>
      <td {...tableRoles.cell}>
        <span class="card-label">Last used: </span>
        {day(item.lastUsedAt, 'never')}
      </td>
      <td {...tableRoles.cell}>
        {isLive && (
          <span class="button-row">
            <button type="button" class="plain" onClick={() => turn(item)} aria-label={`New secret for ${item.name}`}>
              New secret
            </button>
            <button type="button" class="plain" onClick={() => revoke(item)} aria-label={`Revoke ${item.name}`}>
              Revoke
            </button>
          </span>
        )}
      </td>
    </tr>
  );
}

function FreshKey({ name, text }: { readonly name: string; readonly text: string }) {
  return (
    <div class="secret" role="status">
      <p>
        <strong>The key "{name}", shown this once.</strong> Copy it to where it is used; nobody can look it up later. A
        secret of before stays good for a day.
      </p>
      <code>{text}</code>
    </div>
  );
}

function day(instant: string | null, otherwise: string): string {
  return instant === null ? otherwise : formatInstant(Date.parse(instant), 'UTC', Date.now());
}

import { useSignal } from '@preact/signals';
import type { AlertDocument, Problem } from '@warmbrick/contracts';
import type { Fetched } from '../api/call.js';
import { api } from '../api/client.js';
import type { AlertBoard } from './alert-store.js';

interface AlertActionsProps {
  readonly alert: AlertDocument;
  readonly board: AlertBoard;
}

/** How long something is put on the shelf. */
const shelfChoices = [
  { minutes: 30, words: 'half an hour' },
  { minutes: 120, words: 'two hours' },
  { minutes: 480, words: 'a shift (8 h)' },
  { minutes: 1440, words: 'a day' },
  { minutes: 10_080, words: 'a week' },
] as const;

/** What somebody can do about an alert; each step is written down with who did it. */
export function AlertActions({ alert, board }: AlertActionsProps) {
  const problem = useSignal<Problem | null>(null);
  const open = useSignal<'assign' | 'shelve' | 'comment' | null>(null);
  const isSending = useSignal(false);
  const path = { episodeId: alert.episodeId };
  const send = async (sent: Promise<Fetched<AlertDocument>>) => {
    isSending.value = true;
    const answer = await sent;
    isSending.value = false;
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    open.value = null;
    board.put(answer.body);
  };
  const isOpen = alert.condition !== 'clear';
  const toggle = (name: 'assign' | 'shelve' | 'comment', words: string) => (
    <button
      type="button"
      aria-expanded={open.value === name}
      onClick={() => {
        open.value = open.value === name ? null : name;
      }}
    >
      {words}
    </button>
  );
  return (
    <div class="alert-actions">
      <div class="alert-buttons">
        {!alert.isAcknowledged && (
          <button
            type="button"
            class="strong"
            disabled={isSending.value}
            onClick={() => send(api.postAlertAcknowledge({ path, body: {} }))}
          >
            I have seen it
          </button>
        )}
        {isOpen && toggle('assign', alert.assignee === null ? 'Assign' : 'Assign to somebody else')}
        {isOpen && alert.shelvedUntil === null && toggle('shelve', 'Shelve')}
        {isOpen && alert.shelvedUntil !== null && (
          <button type="button" disabled={isSending.value} onClick={() => send(api.postAlertUnshelve({ path }))}>
            Take off the shelf
          </button>
        )}
        {toggle('comment', 'Remark')}
      </div>
      {open.value === 'assign' && (
        <OneField
          label="Who sees to it"
          button="Assign"
          longest={80}
          send={(to) => send(api.postAlertAssign({ path, body: { to } }))}
        />
      )}
      {open.value === 'comment' && (
        <OneField
          label="Remark"
          button="Write down"
          longest={500}
          send={(note) => send(api.postAlertComment({ path, body: { note } }))}
        />
      )}
      {open.value === 'shelve' && <ShelveForm send={(body) => send(api.postAlertShelve({ path, body }))} />}
      {problem.value !== null && (
        <p class="problem" role="alert">
          {problem.value.detail ?? problem.value.title}
        </p>
      )}
    </div>
  );
}

interface OneFieldProps {
  readonly label: string;
  readonly button: string;
  readonly longest: number;
  readonly send: (text: string) => void;
}

function OneField({ label, button, longest, send }: OneFieldProps) {
  const text = useSignal('');
  const submit = (event: Event) => {
    event.preventDefault();
    if (text.value.trim() !== '') send(text.value.trim());
  };
  return (
    <form class="alert-form" onSubmit={submit}>
      <label class="field">
        <span>{label}</span>
        <input
          type="text"
          required
          maxLength={longest}
          value={text.value}
          onInput={(event) => {
            text.value = event.currentTarget.value;
          }}
        />
      </label>
      <button type="submit">{button}</button>
    </form>
  );
}

function ShelveForm({ send }: { readonly send: (body: { minutes: number; reason: string }) => void }) {
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const fields = new FormData(event.currentTarget as HTMLFormElement);
    send({ minutes: Number(fields.get('minutes')), reason: String(fields.get('reason') ?? '') });
  };
  return (
    <form class="alert-form" onSubmit={submit}>
      <label class="field">
        <span>Quiet for</span>
        <select name="minutes">
          {shelfChoices.map(({ minutes, words }) => (
            <option key={minutes} value={minutes} selected={minutes === 120}>
              {words}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>Why</span>
        <input type="text" name="reason" required maxLength={300} />
      </label>
      <button type="submit">Shelve</button>
    </form>
  );
}

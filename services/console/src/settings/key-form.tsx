import { useSignal } from '@preact/signals';
import { type CallerDocument, roles } from '@warmbrick/contracts';
import type { PostKeysBody } from '../api/client.js';

interface KeyFormProps {
  readonly caller: CallerDocument;
  /** Makes the key; false when it was refused. */
  readonly make: (body: PostKeysBody) => Promise<boolean>;
}

const dayS = 86_400;
/** Lives to choose from, in days; the last is without an end. */
const lives = [1, 30, 90, 365, null] as const;
const usualDays = 90;

/** Asks what a new key is for. */
export function KeyForm({ caller, make }: KeyFormProps) {
  const isBusy = useSignal(false);
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    isBusy.value = true;
    if (await make(bodyOf(new FormData(form)))) form.reset();
    isBusy.value = false;
  };
  return (
    <form class="record-form" onSubmit={submit} aria-label="New key">
      <label class="field">
        <span>Name: who or what uses it</span>
        <input name="name" required maxLength={80} autocomplete="off" />
      </label>
      <label class="field">
        <span>May act as</span>
        <select name="role">
          {roles.map((role) => (
            <option key={role} value={role}>
              {role}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>Fleets, with commas between{caller.fleets === 'all' ? '; empty is all' : ''}</span>
        <input
          name="fleets"
          required={caller.fleets !== 'all'}
          pattern="[a-z0-9, \-]*"
          maxLength={400}
          autocomplete="off"
          defaultValue={caller.fleets === 'all' ? '' : caller.fleets.join(', ')}
        />
      </label>
      <label class="field">
        <span>Good for</span>
        <select name="days">
          {lives.map((days) => (
            <option key={days ?? 'ever'} value={days ?? ''} selected={days === usualDays}>
              {days === null ? 'until it is revoked' : days === 1 ? 'a day' : `${days} days`}
            </option>
          ))}
        </select>
      </label>
      <div class="field-wide">
        <button type="submit" disabled={isBusy.value}>
          Make a key
        </button>
      </div>
    </form>
  );
}

function bodyOf(form: FormData): PostKeysBody {
  const text = (name: string) => String(form.get(name) ?? '').trim();
  const fleets = text('fleets')
    .split(/[\s,]+/)
    .filter((fleet) => fleet !== '');
  return {
    name: text('name'),
    role: text('role') as PostKeysBody['role'],
    fleets: fleets.length === 0 ? 'all' : fleets,
    expiresInS: text('days') === '' ? null : Number(text('days')) * dayS,
  };
}

import type { ComponentChildren } from 'preact';
import { setQuery } from '../routing/location.js';
import type { BenchStore } from './bench-store.js';
import { thresholdGroups } from './threshold-groups.js';

/** Days that are offered; a month of samples a second is what the bench is made for. */
const dayChoices = [1, 3, 7, 14, 31] as const;

interface ChoicesProps {
  readonly days: number;
  /** Version of the set that is compared with, and those there are. */
  readonly setName: string;
  readonly versions: readonly string[];
  readonly children: ComponentChildren;
}

/** How many days of samples, and which set they are compared with. */
export function BenchChoices({ days, setName, versions, children }: ChoicesProps) {
  return (
    <div class="bench-choices">
      <label>
        Samples of the last{' '}
        <select value={String(days)} onChange={(event) => setQuery({ days: event.currentTarget.value })}>
          {dayChoices.map((count) => (
            <option key={count} value={String(count)}>
              {count} {count === 1 ? 'day' : 'days'}
            </option>
          ))}
        </select>
      </label>
      <label>
        Compared with{' '}
        <select value={setName} onChange={(event) => setQuery({ with: event.currentTarget.value })}>
          {[...new Set([setName, ...versions])].map((version) => (
            <option key={version} value={version}>
              {version}
            </option>
          ))}
        </select>
      </label>
      {children}
    </div>
  );
}

/** The groups of thresholds, each with how many of it were moved. */
export function GroupChoice({ store, groupId }: { readonly store: BenchStore; readonly groupId: string }) {
  return (
    <fieldset class="group-choice">
      <legend class="unseen">Group of thresholds</legend>
      {thresholdGroups.map(({ id, title, thresholds }) => {
        const moved = thresholds.filter(({ name }) => store.moved.value[name] !== undefined).length;
        return (
          <button key={id} type="button" aria-pressed={id === groupId} onClick={() => setQuery({ group: id })}>
            {title}
            {moved > 0 && <b> {moved} moved</b>}
          </button>
        );
      })}
    </fieldset>
  );
}

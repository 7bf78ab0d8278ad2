import { useComputed } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { nowMs } from '../api/server-clock.js';
import { ProblemNote } from '../parts/problem-note.js';
import { query, setQuery } from '../routing/location.js';
import { FindingEntry } from './finding-entry.js';
import type { MachineStore } from './machine-store.js';

interface FindingListProps {
  readonly store: MachineStore;
  readonly timeZone: string;
}

/** What was found on the machine, the latest first. */
export function FindingList({ store, timeZone }: FindingListProps) {
  const withRuns = query.value.get('runs') === '1';
  useEffect(() => void store.loadFindings(withRuns), [store, withRuns]);
  const minute = useComputed(() => Math.floor(nowMs.value / 60_000) * 60_000).value;
  const findings = store.findings.value;
  return (
    <section class="findings" aria-labelledby="findings-title">
      <div class="section-head">
        <h2 id="findings-title">Findings</h2>
        <label class="tick">
          <input
            type="checkbox"
            checked={withRuns}
            onChange={(event) => setQuery({ runs: event.currentTarget.checked ? '1' : null })}
          />
          with engine runs
        </label>
      </div>
      {store.findingsProblem.value !== null && (
        <ProblemNote problem={store.findingsProblem.value} retry={() => store.loadFindings(withRuns)} />
      )}
      {findings.length === 0 && store.findingsProblem.value === null && <p class="nothing">Nothing was found.</p>}
      <ol>
        {findings.map((finding) => (
          <FindingEntry key={finding.id} finding={finding} timeZone={timeZone} nowMs={minute} />
        ))}
      </ol>
      {store.nextCursor.value !== null && (
        <button type="button" class="more" onClick={() => store.moreFindings()}>
          Earlier findings
        </button>
      )}
    </section>
  );
}

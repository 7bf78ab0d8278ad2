import { useComputed } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { nowMs } from '../api/server-clock.js';
import { ProblemNote } from '../parts/problem-note.js';
import { query, setQuery } from '../routing/location.js';
import { FindingEntry } from './finding-entry.js';
import type { MachineFindings } from './machine-findings.js';

interface FindingListProps {
  readonly store: MachineFindings;
  readonly timeZone: string;
}

/** What was found on the machine, the latest first. */
export function FindingList({ store, timeZone }: FindingListProps) {
  const withRuns = query.value.get('runs') === '1';
  useEffect(() => void store.load(withRuns), [store, withRuns]);
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
      {store.problem.value !== null && <ProblemNote problem={store.problem.value} retry={() => store.load(withRuns)} />}
      {findings.length === 0 && store.problem.value === null && <p class="nothing">Nothing was found.</p>}
      <ol>
        {findings.map((finding) => (
          <FindingEntry key={finding.id} finding={finding} timeZone={timeZone} nowMs={minute} />
        ))}
      </ol>
      {store.nextCursor.value !== null && (
        <button type="button" class="more" onClick={() => store.more()}>
          Earlier findings
        </button>
      )}
    </section>
  );
}

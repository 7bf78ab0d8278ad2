import { useSignal } from '@preact/signals';
import type { CallerDocument, Problem } from '@warmbrick/contracts';
import { useEffect } from 'preact/hooks';
import { api } from '../api/client.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { fleets, settingsFleet } from '../routing/fleet-choice.js';
import { AuditList } from './audit-list.js';
import { FaultTexts } from './fault-texts.js';
import { FleetList } from './fleet-list.js';
import { KeyList } from './key-list.js';
import { scopeWords } from './scope-words.js';

/** Who is here, and for administrators: keys, fleets, and what was done. */
export function SettingsPage() {
  const caller = useSignal<CallerDocument | null>(null);
  const problem = useSignal<Problem | null>(null);
  const load = async () => {
    const answer = await api.getCaller();
    if (answer === null) return;
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) caller.value = answer.body;
  };
  useEffect(() => void load(), []);
  return (
    <div class="settings">
      <PageTitle text="Settings" />
      {problem.value !== null && <ProblemNote problem={problem.value} retry={load} />}
      {caller.value === null && problem.value === null && <LoadingNote what="who is here" />}
      {caller.value !== null && <WhoIsHere caller={caller.value} />}
      {caller.value !== null && fleets.value !== null && <FaultTexts key={settingsFleet.value} caller={caller.value} />}
      {caller.value?.role === 'admin' && (
        <>
          <KeyList caller={caller.value} />
          <FleetList />
          <AuditList />
        </>
      )}
    </div>
  );
}

function WhoIsHere({ caller }: { readonly caller: CallerDocument }) {
  const signOut = async () => {
    await api.deleteSession();
    location.reload();
  };
  return (
    <section aria-labelledby="who-title">
      <h2 id="who-title">Who is here</h2>
      <p>
        <strong>{caller.name}</strong>, as {caller.role}, for {scopeWords(caller.fleets)}.
      </p>
      {caller.isSignedIn ? (
        <button type="button" onClick={signOut}>
          Sign out
        </button>
      ) : (
        <p class="quiet">
          Nobody has to sign in on this computer as long as no administrator holds a key for all fleets. Once there is
          one, these pages ask for it.
        </p>
      )}
    </section>
  );
}

import { useSignal } from '@preact/signals';
import type { Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { PageTitle } from '../parts/page-title.js';

/** Asks for a key. It goes into a cookie that no script can read, and the pages start anew. */
export function SignInPage() {
  const problem = useSignal<Problem | null>(null);
  const isBusy = useSignal(false);
  const signIn = async (event: SubmitEvent) => {
    event.preventDefault();
    const key = String(new FormData(event.currentTarget as HTMLFormElement).get('key') ?? '').trim();
    isBusy.value = true;
    const answer = await api.postSession({ body: { key } });
    isBusy.value = false;
    if (answer?.ok === true) location.reload();
    else problem.value = answer?.problem ?? null;
  };
  return (
    <section class="sign-in">
      <PageTitle text="Sign in" />
      <p>This server wants to know who is there. An administrator hands out keys.</p>
      <form onSubmit={signIn}>
        <label class="field">
          <span>Key</span>
          <input
            name="key"
            type="password"
            autocomplete="current-password"
            required
            maxLength={8192}
            spellcheck={false}
            aria-describedby={problem.value === null ? undefined : 'sign-in-problem'}
          />
        </label>
        <button type="submit" disabled={isBusy.value}>
          Sign in
        </button>
      </form>
      {problem.value !== null && (
        <p id="sign-in-problem" class="sign-in-problem" role="alert">
          <strong>{problem.value.title}.</strong> {problem.value.detail}
        </p>
      )}
    </section>
  );
}

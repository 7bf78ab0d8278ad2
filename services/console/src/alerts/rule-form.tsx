import { useSignal } from '@preact/signals';
import type { Problem } from '@warmbrick/contracts';
import { api, type PostRulesBody } from '../api/client.js';
import { RuleTry } from './rule-try.js';

const example = JSON.stringify(
  {
    id: 'soot-near-limit',
    title: 'Soot near its limit',
    when: { figure: 'sootRatio', atLeast: 0.8, clearBelow: 0.6 },
    severity: 'warning',
    onDelayS: 600,
    offDelayS: 1800,
  },
  null,
  2,
);

/** Writing a rule: tried first, then set. */
export function RuleForm({ reload }: { readonly reload: () => void }) {
  const text = useSignal(example);
  const problem = useSignal<Problem | null>(null);
  const rule = readJson(text.value);
  const save = async (event: Event) => {
    event.preventDefault();
    const answer = await api.postRules({ body: { rule: rule as PostRulesBody['rule'] } });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) reload();
  };
  return (
    <section class="rule-form" aria-labelledby="rule-form-title">
      <h2 id="rule-form-title">Write a rule</h2>
      <form onSubmit={save}>
        <label class="field">
          <span>As JSON; what is left out has a default</span>
          <textarea
            rows={12}
            spellcheck={false}
            value={text.value}
            onInput={(event) => {
              text.value = event.currentTarget.value;
            }}
          />
        </label>
        {rule === undefined && <p class="quiet">This is not JSON yet.</p>}
        {problem.value !== null && (
          <div class="problem" role="alert">
            <p>{problem.value.title}</p>
            <ul>
              {(problem.value.errors ?? [{ path: '', message: problem.value.detail ?? '' }]).map((error) => (
                <li key={error.path}>
                  {error.path} {error.message}
                </li>
              ))}
            </ul>
          </div>
        )}
        <div class="alert-buttons">
          {rule !== undefined && <RuleTry rule={rule} />}
          <button type="submit" class="strong" disabled={rule === undefined}>
            Set this rule
          </button>
        </div>
      </form>
    </section>
  );
}

function readJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

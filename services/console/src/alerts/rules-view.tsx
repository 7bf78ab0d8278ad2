import { useSignal } from '@preact/signals';
import type { Problem, RuleDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { RuleForm } from './rule-form.js';
import { RuleTry } from './rule-try.js';
import { habitWords, whenWords } from './rule-words.js';

/** The rules in force, each to be tried on what happened, switched off, or changed. */
export function RulesView() {
  const tries = useSignal(0);
  const answer = useCall((signal) => api.getRules({ signal }), String(tries.value)).value;
  const reload = () => {
    tries.value++;
  };
  if (answer === null) return <LoadingNote what="the rules" />;
  if (!answer.ok) return <ProblemNote problem={answer.problem} retry={reload} />;
  return (
    <>
      <p class="quiet">
        A rule says what is worth an alert. Trying one changes nothing: it counts how often it would have opened on what
        is stored of the last week.
      </p>
      <ul class="rule-list">
        {answer.body.items.map((document) => (
          <RuleCard key={`${document.rule.id} ${document.revision}`} document={document} reload={reload} />
        ))}
      </ul>
      <RuleForm reload={reload} />
    </>
  );
}

interface RuleCardProps {
  readonly document: RuleDocument;
  readonly reload: () => void;
}

function RuleCard({ document, reload }: RuleCardProps) {
  const { rule, isBuiltIn, isChanged, changedBy } = document;
  const problem = useSignal<Problem | null>(null);
  const change = async (method: 'PUT' | 'DELETE') => {
    const body = { rule: { ...rule, isEnabled: !rule.isEnabled } };
    const path = { ruleId: rule.id };
    const answer = await (method === 'PUT' ? api.putRule({ path, body }) : api.deleteRule({ path }));
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) reload();
  };
  return (
    <li class={rule.isEnabled ? 'rule-card' : 'rule-card rule-off'}>
      <div class="alert-what">
        <strong class="alert-title">{rule.title}</strong>
        {!rule.isEnabled && <span class="alert-mark">switched off</span>}
        {isChanged && <span class="alert-mark">{isBuiltIn ? `changed by ${changedBy}` : `set by ${changedBy}`}</span>}
      </div>
      <p>On {whenWords(rule)}</p>
      <ul class="alert-operator">
        {habitWords(rule).map((line) => (
          <li key={line}>{line}</li>
        ))}
      </ul>
      <p class="quiet">Source: {rule.source}</p>
      <div class="alert-buttons">
        <RuleTry rule={rule} />
        <button type="button" onClick={() => change('PUT')}>
          {rule.isEnabled ? 'Switch off' : 'Switch on'}
        </button>
        {isChanged && (
          <button type="button" onClick={() => change('DELETE')}>
            {isBuiltIn ? 'As it was' : 'Take away'}
          </button>
        )}
      </div>
      {problem.value !== null && (
        <p class="problem" role="alert">
          {problem.value.detail ?? problem.value.title}
        </p>
      )}
      <details>
        <summary>As text</summary>
        <pre class="rule-text">{JSON.stringify(rule, null, 2)}</pre>
      </details>
    </li>
  );
}

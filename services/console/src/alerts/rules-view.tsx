import { useSignal } from '@preact/signals';
import type { Problem, RuleDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { FleetPicker } from '../parts/fleet-picker.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { fleets, inFleet, settingsFleet } from '../routing/fleet-choice.js';
import { RuleForm } from './rule-form.js';
import { RuleTry } from './rule-try.js';
import { habitWords, whenWords } from './rule-words.js';

/** The rules in force, each to be tried on what happened, switched off, or changed. */
export function RulesView() {
  const tries = useSignal(0);
  /** What the form is about: a rule, a new one, or nothing. */
  const subject = useSignal<RuleDocument | 'new' | null>(null);
  const fleetId = settingsFleet.value;
  const isReady = fleets.value !== null;
  const answer = useCall(
    async (signal) => (isReady ? api.getRules({ query: inFleet.value, signal }) : null),
    `${isReady} ${fleetId} ${tries.value}`,
  ).value;
  const reload = () => {
    tries.value++;
  };
  const write = (about: RuleDocument | 'new' | null) => {
    subject.value = about;
  };
  if (answer === null) return <LoadingNote what="the rules" />;
  if (!answer.ok) return <ProblemNote problem={answer.problem} retry={reload} />;
  return (
    <>
      <p class="quiet">
        A rule says what is worth an alert. Trying one changes nothing: it counts how often it would have opened on what
        is stored of the last week.
      </p>
      <FleetPicker />
      <p>
        <button type="button" class="strong" onClick={() => write('new')}>
          Write a rule
        </button>
      </p>
      {subject.value === 'new' && <RuleForm start={null} reload={reload} close={() => write(null)} />}
      <ul class="rule-list">
        {answer.body.items.map((document) => {
          const { rule, revision } = document;
          if (subject.value !== 'new' && subject.value?.rule.id === rule.id)
            return (
              <li key={`${rule.id} form`}>
                <RuleForm start={document} reload={reload} close={() => write(null)} />
              </li>
            );
          const onChange = () => write(document);
          return <RuleCard key={`${rule.id} ${revision}`} document={document} onChange={onChange} reload={reload} />;
        })}
      </ul>
    </>
  );
}

interface RuleCardProps {
  readonly document: RuleDocument;
  readonly onChange: () => void;
  readonly reload: () => void;
}

function RuleCard({ document, onChange, reload }: RuleCardProps) {
  const { rule, isBuiltIn, isChanged, changedBy } = document;
  const problem = useSignal<Problem | null>(null);
  const change = async (method: 'PUT' | 'DELETE') => {
    const body = { ...inFleet.value, rule: { ...rule, isEnabled: !rule.isEnabled }, basedOn: document.revision };
    const path = { ruleId: rule.id };
    const answer = await (method === 'PUT'
      ? api.putRule({ path, body })
      : api.deleteRule({ path, query: inFleet.value }));
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
        <button type="button" onClick={onChange}>
          Change
        </button>
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

import { useSignal } from '@preact/signals';
import type { Problem, RuleDocument } from '@warmbrick/contracts';
import { useEffect, useRef } from 'preact/hooks';
import { api, type PostRulesBody } from '../api/client.js';
import { TextField } from '../parts/labelled.js';
import { inFleet } from '../routing/fleet-choice.js';
import { draftOf, emptyDraft, idOf, type RuleDraft, ruleOf } from './rule-draft.js';
import { HoldFields, ReachFields, WordFields } from './rule-fields.js';
import { RuleProblem } from './rule-problem.js';
import { RuleTry } from './rule-try.js';
import { WhenFields } from './rule-when-fields.js';

interface RuleFormProps {
  /** The rule that is changed; null for a new one. */
  readonly start: RuleDocument | null;
  readonly reload: () => void;
  readonly close: () => void;
}

/** Writing a rule, by fields or as text: tried first, then set. */
export function RuleForm({ start, reload, close }: RuleFormProps) {
  const draft = useSignal<RuleDraft>(start === null ? emptyDraft : draftOf(start.rule));
  /** The rule as text; null while it is written by fields. */
  const text = useSignal<string | null>(null);
  const problem = useSignal<Problem | null>(null);
  const title = useRef<HTMLHeadingElement>(null);
  useEffect(() => title.current?.focus(), []);
  const rule = text.value === null ? ruleOf(draft.value) : readJson(text.value);
  const change = (part: Partial<RuleDraft>) => {
    draft.value = { ...draft.value, ...part };
  };
  const save = async (event: Event) => {
    event.preventDefault();
    const answer = await send(rule as PostRulesBody['rule'], start);
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    reload();
    close();
  };
  return (
    <section class="rule-form" aria-labelledby="rule-form-title">
      <h2 id="rule-form-title" tabIndex={-1} ref={title}>
        {start === null ? 'A rule of your own' : `Change “${start.rule.title}”`}
      </h2>
      <form onSubmit={save}>
        {text.value === null ? (
          <Fields draft={draft.value} isNew={start === null} change={change} />
        ) : (
          <label class="field">
            <span>As JSON; what is left out has a default</span>
            <textarea
              rows={18}
              spellcheck={false}
              value={text.value}
              onInput={(event) => {
                text.value = event.currentTarget.value;
              }}
            />
          </label>
        )}
        {rule === undefined && <p class="quiet">This is not JSON yet.</p>}
        <RuleProblem problem={problem.value} />
        <div class="alert-buttons">
          {rule !== undefined && <RuleTry rule={rule} />}
          <button type="submit" class="strong" disabled={rule === undefined}>
            Set this rule
          </button>
          {text.value === null && (
            <button
              type="button"
              onClick={() => {
                text.value = JSON.stringify(rule, null, 2);
              }}
            >
              Write it as text
            </button>
          )}
          <button type="button" onClick={close}>
            Leave it
          </button>
        </div>
      </form>
    </section>
  );
}

/** A new rule is posted; another goes in place of the one that was looked at, if that is still there. */
function send(rule: PostRulesBody['rule'], start: RuleDocument | null) {
  if (start === null) return api.postRules({ body: { ...inFleet.value, rule } });
  const body = { ...inFleet.value, rule, basedOn: start.revision };
  return api.putRule({ path: { ruleId: start.rule.id }, body });
}

interface FieldsProps {
  readonly draft: RuleDraft;
  readonly isNew: boolean;
  readonly change: (part: Partial<RuleDraft>) => void;
}

function Fields({ draft, isNew, change }: FieldsProps) {
  return (
    <>
      <div class="record-form">
        <TextField
          label="Title, as people read it"
          isRequired
          value={draft.title}
          onInput={(title) => change({ title })}
        />
        {isNew && (
          <TextField
            label="Name, small letters with hyphens"
            value={draft.id}
            placeholder={idOf(draft.title)}
            onInput={(id) => change({ id })}
          />
        )}
      </div>
      <WhenFields draft={draft} change={change} />
      <HoldFields draft={draft} change={change} />
      <ReachFields draft={draft} change={change} />
      <WordFields draft={draft} change={change} />
    </>
  );
}

function readJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

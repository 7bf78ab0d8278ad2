import { figures } from '@warmbrick/alerting';
import { kindName, kindOrder } from '../format/finding-words.js';
import { ChoiceField, TextField } from '../parts/labelled.js';
import type { LooksAt, RuleDraft, WhereDraft, WhereTest } from './rule-draft.js';
import { type FieldsProps, severityChoices } from './rule-parts.js';

const looksAt: readonly (readonly [LooksAt, string])[] = [
  ['finding', 'a finding'],
  ['figure', 'a figure and its level'],
  ['rise', 'a figure that rises'],
  ['silence', 'a machine that sends nothing'],
];

/** What the rule looks at. */
export function WhenFields({ draft, change }: FieldsProps) {
  return (
    <fieldset class="rule-part">
      <legend>Looks at</legend>
      <div class="record-form">
        <ChoiceField
          label="What"
          value={draft.looksAt}
          choices={looksAt}
          onChange={(value) => change({ looksAt: value as LooksAt })}
        />
        {draft.looksAt === 'finding' && <FindingFields draft={draft} change={change} />}
        {(draft.looksAt === 'figure' || draft.looksAt === 'rise') && (
          <ChoiceField
            label="Figure"
            value={draft.figure}
            choices={figures.map(({ name, words, unit }) => [name, unit === '' ? words : `${words}, ${unit}`])}
            onChange={(figure) => change({ figure })}
          />
        )}
        {draft.looksAt === 'figure' && <LevelFields level={draft} change={change} />}
        {draft.looksAt === 'rise' && <RiseFields draft={draft} change={change} />}
        {draft.looksAt === 'silence' && (
          <TextField
            label="Nothing heard for, min"
            isNumber
            isRequired
            value={draft.silentMin}
            onInput={(silentMin) => change({ silentMin })}
          />
        )}
      </div>
    </fieldset>
  );
}

function FindingFields({ draft, change }: FieldsProps) {
  const { where } = draft;
  const put = (at: number, part: Partial<WhereDraft>) =>
    change({ where: where.map((one, k) => (k === at ? { ...one, ...part } : one)) });
  return (
    <>
      <ChoiceField
        label="Finding"
        value={draft.finding}
        choices={kindOrder.map((kind) => [kind, kindName(kind)])}
        onChange={(finding) => change({ finding })}
      />
      <ChoiceField
        label="At least"
        value={draft.leastSeverity}
        choices={severityChoices}
        onChange={(leastSeverity) => change({ leastSeverity })}
      />
      {where.map((one, at) => (
        <div class="rule-line field-wide" key={at}>
          <TextField
            label="And its figure"
            isRequired
            value={one.value}
            placeholder="levelPct"
            onInput={(value) => put(at, { value })}
          />
          <ChoiceField
            label="Is"
            value={one.test}
            choices={whereTests}
            onChange={(test) => put(at, { test: test as WhereTest, clear: '' })}
          />
          <TextField label="Of" isRequired value={one.level} onInput={(level) => put(at, { level })} />
          {(one.test === 'atLeast' || one.test === 'atMost') && (
            <TextField
              label={clearWords[one.test]}
              value={one.clear}
              isNumber
              onInput={(clear) => put(at, { clear })}
            />
          )}
          <button type="button" onClick={() => change({ where: where.filter((_, k) => k !== at) })}>
            Take out
          </button>
        </div>
      ))}
      <p class="field-wide">
        <button
          type="button"
          onClick={() => change({ where: [...where, { value: '', test: 'atLeast', level: '', clear: '' }] })}
        >
          Ask for a figure of the finding too
        </button>
      </p>
    </>
  );
}

const whereTests: readonly (readonly [WhereTest, string])[] = [
  ['atLeast', 'at least'],
  ['atMost', 'at most'],
  ['is', 'exactly'],
  ['anyOf', 'one of, with commas between'],
];

const clearWords = { atLeast: 'Over again below', atMost: 'Over again above' } as const;

interface LevelProps {
  readonly level: Pick<RuleDraft, 'test' | 'level' | 'clear'>;
  readonly change: FieldsProps['change'];
}

function LevelFields({ level, change }: LevelProps) {
  return (
    <>
      <ChoiceField
        label="Is"
        value={level.test}
        choices={whereTests.slice(0, 2)}
        onChange={(test) => change({ test: test as RuleDraft['test'] })}
      />
      <TextField label="Of" isNumber isRequired value={level.level} onInput={(value) => change({ level: value })} />
      <TextField label={clearWords[level.test]} isNumber value={level.clear} onInput={(clear) => change({ clear })} />
    </>
  );
}

function RiseFields({ draft, change }: FieldsProps) {
  return (
    <>
      <TextField label="Rises by" isNumber isRequired value={draft.riseBy} onInput={(riseBy) => change({ riseBy })} />
      <TextField
        label="Within, h"
        isNumber
        isRequired
        value={draft.riseWithinH}
        onInput={(riseWithinH) => change({ riseWithinH })}
      />
    </>
  );
}

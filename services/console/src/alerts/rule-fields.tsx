import { ChoiceField, TextField, TickField } from '../parts/labelled.js';
import { type FieldsProps, severityChoices } from './rule-parts.js';

/** How grave it is, and how long it must hold. */
export function HoldFields({ draft, change }: FieldsProps) {
  const hasSteps = draft.looksAt === 'figure' || draft.looksAt === 'rise';
  return (
    <fieldset class="rule-part">
      <legend>How grave, how long</legend>
      <div class="record-form">
        <ChoiceField
          label="Severity"
          value={draft.severity}
          choices={[['as-found', 'that of the finding; else warning'], ...severityChoices]}
          onChange={(severity) => change({ severity })}
        />
        <TextField
          label="Opens after, min"
          isNumber
          value={draft.onDelayMin}
          onInput={(onDelayMin) => change({ onDelayMin })}
        />
        <TextField
          label="Closes after, min"
          isNumber
          value={draft.offDelayMin}
          onInput={(offDelayMin) => change({ offDelayMin })}
        />
        <TextField
          label="Not known after, min without data"
          isNumber
          value={draft.unknownAfterMin}
          onInput={(unknownAfterMin) => change({ unknownAfterMin })}
        />
        <TextField
          label="Counts as past when learned later than, min"
          isNumber
          value={draft.latenessMin}
          onInput={(latenessMin) => change({ latenessMin })}
        />
        <ChoiceField
          label="Counts"
          value={draft.during}
          choices={[
            ['always', 'always'],
            ['in-shift', 'in the shifts only'],
            ['out-of-shift', 'outside the shifts only'],
          ]}
          onChange={(during) => change({ during })}
        />
        {hasSteps && <StepFields draft={draft} change={change} />}
        {draft.looksAt !== 'silence' && (
          <div class="field-wide">
            <TickField isOn={draft.isLatched} onChange={(isLatched) => change({ isLatched })}>
              stays after its end until somebody has seen it
            </TickField>
          </div>
        )}
        {draft.isLatched && draft.looksAt !== 'silence' && (
          <TextField
            label="But no longer than, h"
            isNumber
            value={draft.releaseAfterH}
            onInput={(releaseAfterH) => change({ releaseAfterH })}
          />
        )}
      </div>
    </fieldset>
  );
}

/** From which level on it is more or less grave. */
function StepFields({ draft, change }: FieldsProps) {
  const { severitySteps } = draft;
  const put = (at: number, part: Partial<(typeof severitySteps)[number]>) =>
    change({ severitySteps: severitySteps.map((one, k) => (k === at ? { ...one, ...part } : one)) });
  return (
    <>
      {severitySteps.map((one, at) => (
        <div class="rule-line field-wide" key={at}>
          <TextField label="From" isNumber isRequired value={one.at} onInput={(value) => put(at, { at: value })} />
          <ChoiceField
            label="It is"
            value={one.severity}
            choices={severityChoices}
            onChange={(severity) => put(at, { severity })}
          />
          <button type="button" onClick={() => change({ severitySteps: severitySteps.filter((_, k) => k !== at) })}>
            Take out
          </button>
        </div>
      ))}
      <p class="field-wide">
        <button
          type="button"
          onClick={() => change({ severitySteps: [...severitySteps, { at: '', severity: 'severe' }] })}
        >
          Another severity from a level on
        </button>
      </p>
    </>
  );
}

/** Whom it reaches, and for which machines. */
export function ReachFields({ draft, change }: FieldsProps) {
  const { escalation } = draft;
  const put = (at: number, part: Partial<(typeof escalation)[number]>) =>
    change({ escalation: escalation.map((one, k) => (k === at ? { ...one, ...part } : one)) });
  return (
    <fieldset class="rule-part">
      <legend>Whom it tells, of which machines</legend>
      <div class="record-form">
        <ChoiceField
          label="Tells people at once from"
          value={draft.pagesFrom}
          choices={severityChoices}
          onChange={(pagesFrom) => change({ pagesFrom })}
        />
        {escalation.map((one, at) => (
          <div class="rule-line field-wide" key={at}>
            <TextField
              label="Not seen after, min"
              isNumber
              isRequired
              value={one.afterMin}
              onInput={(afterMin) => put(at, { afterMin })}
            />
            <TextField label="Goes to" isRequired value={one.to} onInput={(to) => put(at, { to })} />
            <button type="button" onClick={() => change({ escalation: escalation.filter((_, k) => k !== at) })}>
              Take out
            </button>
          </div>
        ))}
        <p class="field-wide">
          <button type="button" onClick={() => change({ escalation: [...escalation, { afterMin: '30', to: '' }] })}>
            Goes to somebody else when nobody has seen it
          </button>
        </p>
        <TextField label="Only these sites" value={draft.sites} onInput={(sites) => change({ sites })} />
        <TextField label="Only these classes" value={draft.classes} onInput={(classes) => change({ classes })} />
        <TextField label="Only these machines" value={draft.machines} onInput={(machines) => change({ machines })} />
        <TextField label="Only these fleets" value={draft.fleets} onInput={(fleets) => change({ fleets })} />
        <p class="field-wide quiet">With commas between; empty is all.</p>
      </div>
    </fieldset>
  );
}

/** What it says. */
export function WordFields({ draft, change }: FieldsProps) {
  return (
    <fieldset class="rule-part">
      <legend>What it says</legend>
      <div class="record-form">
        <TextField label="What to do" isWide value={draft.advice} onInput={(advice) => change({ advice })} />
        <TextField
          label="Caution, where doing it can hurt somebody"
          isWide
          value={draft.caution}
          onInput={(caution) => change({ caution })}
        />
        <TextField
          label="Where its levels come from"
          isWide
          value={draft.source}
          onInput={(source) => change({ source })}
        />
      </div>
    </fieldset>
  );
}

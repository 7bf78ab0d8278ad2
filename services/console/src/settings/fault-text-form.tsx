import { inducementClassTexts } from '@warmbrick/analysis';
import type { FaultTexts } from '@warmbrick/contracts';

export type OwnCode = Omit<FaultTexts['items'][number], 'changedBy' | 'changedAt'>;

const leanings = [
  ['', 'as built in'],
  ['usually', 'usually'],
  ['may', 'it may'],
  ['never', 'never'],
] as const;

interface FaultTextFormProps {
  /** Puts a code in; false when it was refused. */
  readonly save: (code: OwnCode) => Promise<boolean>;
}

/** A code in one's own words; one that is there already is replaced. */
export function FaultTextForm({ save }: FaultTextFormProps) {
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    if (await save(codeOf(new FormData(form)))) form.reset();
  };
  return (
    <form class="record-form" onSubmit={submit} aria-label="A code in your own words">
      <label class="field">
        <span>SPN</span>
        <input type="number" name="spn" required min="0" max="524287" step="1" inputMode="numeric" />
      </label>
      <label class="field">
        <span>FMI; empty: whichever</span>
        <input type="number" name="fmi" min="0" max="31" step="1" inputMode="numeric" />
      </label>
      <label class="field field-wide">
        <span>Words</span>
        <input type="text" name="text" required maxLength={120} autocomplete="off" />
      </label>
      <label class="field">
        <span>Can lead to a derate</span>
        <select name="derates">
          {leanings.map(([value, words]) => (
            <option key={value} value={value}>
              {words}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        <span>Kind of inducement</span>
        <select name="inducementClass">
          <option value="">none</option>
          {Object.entries(inducementClassTexts).map(([value, words]) => (
            <option key={value} value={value}>
              {words}
            </option>
          ))}
        </select>
      </label>
      <label class="field field-wide">
        <span>Look at first</span>
        <input type="text" name="checkFirst" maxLength={200} autocomplete="off" />
      </label>
      <label class="tick-field field-wide">
        <input type="checkbox" name="isDerateCode" />
        <span>only says that power is cut, and not why: never the cause of a derate</span>
      </label>
      <div class="field-wide">
        <button type="submit">Put it in</button>
      </div>
    </form>
  );
}

function codeOf(form: FormData): OwnCode {
  const text = (name: string) => String(form.get(name) ?? '').trim();
  return {
    spn: Number(text('spn')),
    fmi: text('fmi') === '' ? null : Number(text('fmi')),
    text: text('text'),
    // The choices are those of the form's lists.
    inducementClass: (text('inducementClass') === '' ? null : text('inducementClass')) as OwnCode['inducementClass'],
    isDerateCode: form.get('isDerateCode') !== null,
    ...(text('derates') === '' ? {} : { derates: text('derates') }),
    ...(text('checkFirst') === '' ? {} : { checkFirst: text('checkFirst') }),
  };
}

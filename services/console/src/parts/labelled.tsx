import type { ComponentChildren } from 'preact';

interface TextFieldProps {
  readonly label: string;
  readonly value: string;
  readonly onInput: (value: string) => void;
  readonly isWide?: boolean;
  readonly isRequired?: boolean;
  readonly isNumber?: boolean;
  readonly placeholder?: string;
  /** Id of a list of suggestions. */
  readonly list?: string;
}

/** A text or number with its label. */
export function TextField({ label, value, onInput, ...rest }: TextFieldProps) {
  return (
    <label class={rest.isWide === true ? 'field field-wide' : 'field'}>
      <span>{label}</span>
      <input
        type={rest.isNumber === true ? 'number' : 'text'}
        step="any"
        required={rest.isRequired === true}
        placeholder={rest.placeholder}
        list={rest.list}
        autocomplete="off"
        value={value}
        onInput={(event) => onInput(event.currentTarget.value)}
      />
    </label>
  );
}

interface ChoiceFieldProps {
  readonly label: string;
  readonly value: string;
  /** Value and words of each choice. */
  readonly choices: readonly (readonly [string, string])[];
  readonly onChange: (value: string) => void;
}

/** One of a few, with its label. */
export function ChoiceField({ label, value, choices, onChange }: ChoiceFieldProps) {
  return (
    <label class="field">
      <span>{label}</span>
      <select value={value} onChange={(event) => onChange(event.currentTarget.value)}>
        {choices.map(([choice, words]) => (
          <option key={choice} value={choice}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}

interface TickFieldProps {
  readonly isOn: boolean;
  readonly onChange: (isOn: boolean) => void;
  readonly children: ComponentChildren;
}

/** Yes or no, with its words. */
export function TickField({ isOn, onChange, children }: TickFieldProps) {
  return (
    <label class="tick-field">
      <input type="checkbox" checked={isOn} onChange={(event) => onChange(event.currentTarget.checked)} />
      <span>{children}</span>
    </label>
  );
}

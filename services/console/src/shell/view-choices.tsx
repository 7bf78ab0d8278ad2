import { theme, units, zoneChoice } from '../routing/choices.js';
import { setQuery } from '../routing/location.js';

/** Units, clock and light, kept in the address. */
export function ViewChoices() {
  return (
    <div class="choices">
      <Choice
        name="Units"
        chosen={units.value}
        options={[
          ['metric', '°C, L'],
          ['imperial', '°F, US gal'],
        ]}
        choose={(value) => setQuery({ units: value === 'metric' ? null : value })}
      />
      <Choice
        name="Clock"
        chosen={zoneChoice.value}
        options={[
          ['machine', "machine's own"],
          ['utc', 'UTC'],
        ]}
        choose={(value) => setQuery({ zone: value === 'machine' ? null : value })}
      />
      <Choice
        name="Light"
        chosen={theme.value}
        options={[
          ['system', 'as the system'],
          ['light', 'day'],
          ['dark', 'night'],
        ]}
        choose={(value) => setQuery({ theme: value === 'system' ? null : value })}
      />
    </div>
  );
}

interface ChoiceProps {
  readonly name: string;
  readonly chosen: string;
  readonly options: readonly (readonly [string, string])[];
  readonly choose: (value: string) => void;
}

function Choice({ name, chosen, options, choose }: ChoiceProps) {
  return (
    <label class="choice">
      <span>{name}</span>
      <select value={chosen} onChange={(event) => choose(event.currentTarget.value)}>
        {options.map(([value, words]) => (
          <option key={value} value={value}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}

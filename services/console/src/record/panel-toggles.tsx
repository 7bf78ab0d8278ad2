import { setQuery } from '../routing/location.js';
import { panelChoices, panelQuery } from './record-channels.js';

/** Which panels stand under the exhaust temperature. */
export function PanelToggles({ keys }: { readonly keys: readonly string[] }) {
  const toggle = (key: string) => {
    const next = keys.includes(key) ? keys.filter((other) => other !== key) : [...keys, key];
    setQuery({ ch: panelQuery(next) });
  };
  return (
    <fieldset class="panel-toggles">
      <legend>Also show</legend>
      {panelChoices.map((choice) => (
        <label key={choice.key}>
          <input type="checkbox" checked={keys.includes(choice.key)} onChange={() => toggle(choice.key)} />
          {choice.title}
        </label>
      ))}
    </fieldset>
  );
}

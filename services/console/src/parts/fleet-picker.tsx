import { chosenFleet, fleets, settingsFleet } from '../routing/fleet-choice.js';
import { setQuery } from '../routing/location.js';

/** Chooses among the fleets, where there are several. `hasAll` also offers all of them. */
export function FleetPicker({ hasAll = false }: { readonly hasAll?: boolean }) {
  const known = fleets.value ?? [];
  if (known.length < 2) return null;
  const chosen = hasAll ? (chosenFleet.value ?? '') : (settingsFleet.value ?? '');
  return (
    <label class="fleet-picker">
      <span>{hasAll ? 'Fleet' : 'Of the fleet'}</span>
      <select value={chosen} onChange={(event) => setQuery({ fleet: event.currentTarget.value })}>
        {hasAll && <option value="">all fleets</option>}
        {known.map(({ fleetId, name }) => (
          <option key={fleetId} value={fleetId}>
            {name}
          </option>
        ))}
      </select>
    </label>
  );
}

import { FleetPicker } from '../parts/fleet-picker.js';
import { setQuery } from '../routing/location.js';
import type { FleetScope } from './fleet-store.js';

interface FleetControlsProps {
  readonly scope: FleetScope;
  readonly search: string;
  readonly sites: readonly string[];
}

/** Search, site and order of the list. */
export function FleetControls({ scope, search, sites }: FleetControlsProps) {
  const known = scope.site === null || sites.includes(scope.site) ? sites : [scope.site, ...sites];
  return (
    <search class="fleet-controls">
      <label>
        <span>Find</span>
        <input
          type="search"
          value={search}
          placeholder="name, class or site"
          onInput={(event) => setQuery({ q: event.currentTarget.value })}
        />
      </label>
      <FleetPicker hasAll />
      <label>
        <span>Site</span>
        <select value={scope.site ?? ''} onChange={(event) => setQuery({ site: event.currentTarget.value })}>
          <option value="">all sites</option>
          {known.map((site) => (
            <option key={site} value={site}>
              {site}
            </option>
          ))}
        </select>
      </label>
      <label>
        <span>Order</span>
        <select
          value={scope.sort}
          onChange={(event) => setQuery({ sort: event.currentTarget.value === 'name' ? 'name' : null })}
        >
          <option value="risk">by soot risk</option>
          <option value="name">by name</option>
        </select>
      </label>
    </search>
  );
}

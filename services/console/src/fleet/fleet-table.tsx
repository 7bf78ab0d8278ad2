import type { Signal } from '@preact/signals';
import type { MachineItem } from '@warmbrick/contracts';
import { tableRoles } from '../parts/table-roles.js';
import { zoneChoice } from '../routing/choices.js';
import { MachineRow } from './machine-row.js';

interface FleetTableProps {
  readonly machines: readonly Signal<MachineItem>[];
  readonly sort: 'risk' | 'name';
}

/** The list as a table; on a phone the same rows are laid out as cards, so the roles are spelled out. */
export function FleetTable({ machines, sort }: FleetTableProps) {
  const clock = zoneChoice.value === 'utc' ? 'clock: UTC' : "clock: each machine's own";
  return (
    <table class="fleet-table" {...tableRoles.table} aria-label="Machines">
      <thead {...tableRoles.rowGroup}>
        <tr {...tableRoles.row}>
          <Head words="Soot risk" sorted={sort === 'risk' ? 'descending' : undefined} />
          <Head words="Machine" sorted={sort === 'name' ? 'ascending' : undefined} />
          <Head words="Its last 24 hours" note={clock} wide />
          <Head words="Ran" numeric />
          <Head words="Idled" numeric />
          <Head words="Too cold" numeric />
          <Head words="Found" />
          <Head words="Now" />
        </tr>
      </thead>
      <tbody {...tableRoles.rowGroup}>
        {machines.map((machine) => (
          <MachineRow key={machine.peek().machineId} machine={machine} />
        ))}
      </tbody>
    </table>
  );
}

interface HeadProps {
  readonly words: string;
  readonly note?: string;
  readonly sorted?: 'ascending' | 'descending' | undefined;
  readonly numeric?: boolean;
  readonly wide?: boolean;
}

function Head({ words, note, sorted, numeric, wide }: HeadProps) {
  const names = [numeric === true ? 'numeric' : '', wide === true ? 'wide' : ''].join(' ').trim();
  return (
    <th {...tableRoles.columnHeader} scope="col" aria-sort={sorted} class={names === '' ? undefined : names}>
      {words}
      {note !== undefined && <span class="head-note"> {note}</span>}
    </th>
  );
}

import type { Signal } from '@preact/signals';
import type { MachineItem } from '@warmbrick/contracts';
import { DayCourse } from '../course/day-course.js';
import { formatHours } from '../format/duration.js';
import { countWords } from '../format/finding-words.js';
import { zoneOf } from '../format/instant.js';
import { tableRoles } from '../parts/table-roles.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { NowCell } from './now-cell.js';
import { RiskCell } from './risk-cell.js';

/** One machine of the fleet. */
export function MachineRow({ machine }: { readonly machine: Signal<MachineItem> }) {
  const item = machine.value;
  const timeZone = zoneOf(zoneChoice.value, item.timeZone);
  const found = countWords(item.findingCounts);
  return (
    <tr {...tableRoles.row}>
      <td {...tableRoles.cell} class="cell-risk">
        <RiskCell score={item.score} />
      </td>
      <th {...tableRoles.rowHeader} scope="row" class="cell-machine">
        <Link to={`/machines/${encodeURIComponent(item.machineId)}`} class="machine-name">
          {item.name}
        </Link>
        <span class="machine-kind">{item.machineClass}</span>
        <span class="machine-site">{item.site ?? 'no site'}</span>
      </th>
      <td {...tableRoles.cell} class="cell-course">
        <DayCourse day={item.day} residency={item.residency} timeZone={timeZone} />
      </td>
      <Hours label="Ran" lengthS={item.residency.runningS} />
      <Hours label="Idled" lengthS={item.residency.idleS} />
      <Hours label="Too cold" lengthS={item.residency.belowS} />
      <td {...tableRoles.cell} class={found === 'nothing found' ? 'cell-found quiet' : 'cell-found'}>
        {found}
      </td>
      <td {...tableRoles.cell} class="cell-now">
        <NowCell mode={item.mode} lastSampleAt={item.lastSampleAt} timeZone={timeZone} />
      </td>
    </tr>
  );
}

function Hours({ label, lengthS }: { readonly label: string; readonly lengthS: number }) {
  return (
    <td {...tableRoles.cell} class="cell-hours numeric">
      <span class="card-label">{label} </span>
      {formatHours(lengthS)}
    </td>
  );
}

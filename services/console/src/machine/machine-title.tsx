import type { Signal } from '@preact/signals';
import type { MachineDetail } from '@warmbrick/contracts';
import { NowCell } from '../fleet/now-cell.js';
import { zoneLabel, zoneOf } from '../format/instant.js';
import { PageTitle } from '../parts/page-title.js';
import { zoneChoice } from '../routing/choices.js';
import type { Heard } from './machine-store.js';

interface MachineTitleProps {
  readonly detail: MachineDetail;
  readonly heard: Signal<Heard | null>;
}

/** Which machine, where, and what it does now. */
export function MachineTitle({ detail, heard }: MachineTitleProps) {
  const timeZone = zoneOf(zoneChoice.value, detail.timeZone);
  const last = heard.value ?? detail;
  return (
    <header class="machine-title">
      <div>
        <PageTitle text={detail.name} />
        <p>
          {detail.machineClass}, {detail.site ?? 'no site'} <span class="quiet">id {detail.machineId}</span>
        </p>
      </div>
      <div class="machine-now">
        <NowCell mode={last.mode} lastSampleAt={last.lastSampleAt} timeZone={timeZone} />
        <p class="zone-name">Times in {zoneLabel(timeZone, Date.parse(last.lastSampleAt))}</p>
      </div>
    </header>
  );
}

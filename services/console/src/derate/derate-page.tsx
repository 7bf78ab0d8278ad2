import { useSignal } from '@preact/signals';
import type { DerateItem } from '@warmbrick/contracts';
import { useEffect } from 'preact/hooks';
import { api } from '../api/client.js';
import { onFinding, onResync } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { throttle } from '../api/throttle.js';
import { useCall } from '../api/use-call.js';
import { zoneLabel, zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { query } from '../routing/location.js';
import { DerateChoice } from './derate-choice.js';
import { DerateView } from './derate-view.js';
import { FaultEntryForm } from './fault-entry-form.js';
import { FaultLog } from './fault-log.js';
import { HandoverPanel } from './handover-panel.js';

/** What is asked for again when something was found on the machine, at most this often. */
const refreshMs = 10_000;

/** Why a machine lost power: its derates, the fault that began each, the whole fault log, and the sheet for the dealer. */
export function DeratePage({ machineId }: { readonly machineId: string }) {
  const tries = useSignal(0);
  const path = { machineId };
  const machine = useCall((signal) => api.getMachine({ path, signal }), machineId).value;
  const derates = useCall(
    (signal) => api.getMachineDerates({ path, query: { limit: 50 }, signal }),
    `${machineId} ${tries.value}`,
  ).value;
  const reload = () => {
    tries.value++;
  };
  useEffect(() => {
    const refresh = throttle(async () => reload(), refreshMs);
    const stops = [
      onFinding((finding) => finding.machineId === machineId && refresh()),
      onResync(refresh),
      refresh.cancel,
    ];
    return () => {
      for (const stop of stops) stop();
    };
  }, [machineId]);
  const detail = machine?.ok === true ? machine.body : null;
  const timeZone = zoneOf(zoneChoice.value, detail?.timeZone ?? 'UTC');
  const name = detail?.name ?? machineId;
  return (
    <article class="derates">
      <p class="crumb">
        <Link to={`/machines/${encodeURIComponent(machineId)}`}>Back to the machine</Link>
        <Link to="/">Back to the fleet</Link>
      </p>
      <PageTitle text={`Faults and derates of ${name}`} />
      <p class="quiet">Times in {zoneLabel(timeZone, Date.parse(detail?.lastSampleAt ?? '') || 0)}.</p>
      {derates === null && <LoadingNote what="the derates" />}
      {derates?.ok === false && <ProblemNote problem={derates.problem} retry={reload} />}
      {derates?.ok === true && (
        <DerateBody
          items={derates.body.items}
          machineId={machineId}
          timeZone={timeZone}
          seenMs={Date.parse(detail?.lastSampleAt ?? '') || nowMs.peek()}
          version={tries.value}
        />
      )}
      {derates?.ok === true && (
        <>
          <FaultLog machineId={machineId} timeZone={timeZone} version={tries.value} />
          <div class="pair">
            <HandoverPanel machineId={machineId} lastSampleAt={detail?.lastSampleAt ?? null} timeZone={timeZone} />
            <FaultEntryForm machineId={machineId} reload={reload} />
          </div>
        </>
      )}
    </article>
  );
}

interface DerateBodyProps {
  readonly items: readonly DerateItem[];
  readonly machineId: string;
  readonly timeZone: string;
  /** When the machine was last heard of. */
  readonly seenMs: number;
  readonly version: number;
}

function DerateBody({ items, machineId, timeZone, seenMs, version }: DerateBodyProps) {
  const asked = query.value.get('d');
  const chosen = items.find(({ startedAt }) => startedAt === asked) ?? items[0];
  if (chosen === undefined) return <p class="nothing">No loss of power has been seen on this machine.</p>;
  return (
    <>
      {items.length > 1 && <DerateChoice items={items} chosen={chosen} timeZone={timeZone} seenMs={seenMs} />}
      <DerateView
        key={chosen.id}
        item={chosen}
        machineId={machineId}
        timeZone={timeZone}
        seenMs={seenMs}
        version={version}
      />
    </>
  );
}

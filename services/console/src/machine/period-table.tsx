import { useSignal } from '@preact/signals';
import type { MachineDetail, Problem, ResidencySeries } from '@warmbrick/contracts';
import { useEffect } from 'preact/hooks';
import { api } from '../api/client.js';
import { residencyShares } from '../course/residency-shares.js';
import { formatHours } from '../format/duration.js';
import { formatInstant, zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';
import { zoneChoice } from '../routing/choices.js';
import { query, setQuery } from '../routing/location.js';
import { ShareBar } from './share-bar.js';

type Bucket = 'shift' | 'day' | 'hour';

/** How far back each kind of period reaches. Units: ms. */
const reachMs: Readonly<Record<Bucket, number>> = { hour: 86_400_000, shift: 7 * 86_400_000, day: 14 * 86_400_000 };

/** Shift by shift, day by day or hour by hour: for trainers and site leads. */
export function PeriodTable({ detail }: { readonly detail: MachineDetail }) {
  const series = useSignal<ResidencySeries | null>(null);
  const problem = useSignal<Problem | null>(null);
  const tries = useSignal(0);
  const retry = () => {
    tries.value += 1;
  };
  const asked = query.value.get('bucket');
  const bucket: Bucket = asked === 'day' || asked === 'hour' ? asked : 'shift';
  useEffect(() => {
    const abort = new AbortController();
    void api.getMachineResidency({ ...seriesOf(detail, bucket), signal: abort.signal }).then((answer) => {
      if (answer === null) return;
      problem.value = answer.ok ? null : answer.problem;
      if (answer.ok) series.value = answer.body;
    });
    return () => abort.abort();
  }, [detail.machineId, bucket, tries.value]);
  return (
    <section class="periods" aria-labelledby="periods-title">
      <div class="section-head">
        <h2 id="periods-title">Period by period</h2>
        <label class="choice">
          <span>By</span>
          <select
            value={bucket}
            onChange={(event) =>
              setQuery({ bucket: event.currentTarget.value === 'shift' ? null : event.currentTarget.value })
            }
          >
            <option value="shift">shift, last 7 days</option>
            <option value="day">day, last 14 days</option>
            <option value="hour">hour, last 24 hours</option>
          </select>
        </label>
      </div>
      {problem.value !== null && <ProblemNote problem={problem.value} retry={retry} />}
      {series.value === null && problem.value === null && <LoadingNote what="the periods" />}
      {series.value !== null && <PeriodRows series={series.value} detail={detail} />}
    </section>
  );
}

function PeriodRows({ series, detail }: { readonly series: ResidencySeries; readonly detail: MachineDetail }) {
  const timeZone = zoneOf(zoneChoice.value, detail.timeZone);
  const nowMs = Date.parse(detail.lastSampleAt);
  const rows = [...series.items].reverse().filter((item) => item.runningS + item.unobservedS > 0);
  if (rows.length === 0) return <p class="nothing">The engine was not seen running in this time.</p>;
  return (
    <table class="figures period-figures" {...tableRoles.table} aria-label="Period by period">
      <thead>
        <tr>
          <th scope="col">From</th>
          <th scope="col" class="wide">
            Catalyst temperature while running
          </th>
          <th scope="col">Ran</th>
          <th scope="col">Idled</th>
          <th scope="col">Too cold</th>
          <th scope="col">Not observed</th>
        </tr>
      </thead>
      <tbody {...tableRoles.rowGroup}>
        {rows.map((item) => (
          <tr key={item.startedAt + (item.shift ?? '')} {...tableRoles.row}>
            <th scope="row" {...tableRoles.rowHeader}>
              {formatInstant(Date.parse(item.startedAt), timeZone, nowMs)}
              {item.shift !== null && <span class="quiet"> {item.shift}</span>}
            </th>
            <td class="wide" {...tableRoles.cell}>
              {item.runningS > 0 && <ShareBar shares={residencyShares(item)} label={shareWords(item)} />}
            </td>
            <Hours label="Ran" lengthS={item.runningS} />
            <Hours label="Idled" lengthS={item.idleS} />
            <Hours label="Too cold" lengthS={item.belowS} />
            <Hours label="Unobserved" lengthS={item.unobservedS} />
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Hours({ label, lengthS }: { readonly label: string; readonly lengthS: number }) {
  return (
    <td {...tableRoles.cell}>
      <span class="card-label">{label} </span>
      {formatHours(lengthS)}
    </td>
  );
}

function shareWords(item: ResidencySeries['items'][number]): string {
  return residencyShares(item)
    .filter((share) => share.shareRatio > 0)
    .map((share) => `${share.name.toLowerCase()} ${Math.round(share.shareRatio * 100)} %`)
    .join(', ');
}

function seriesOf({ machineId, lastSampleAt }: MachineDetail, bucket: Bucket) {
  const toMs = Date.parse(lastSampleAt);
  const from = new Date(toMs - reachMs[bucket]).toISOString();
  return { path: { machineId }, query: { bucket, from, to: new Date(toMs).toISOString() } };
}

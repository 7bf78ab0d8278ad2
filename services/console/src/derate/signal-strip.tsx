import type { DerateDetail } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { useCall } from '../api/use-call.js';
import { formatClock, formatInstant } from '../format/instant.js';
import { formatQuantity } from '../format/unit-system.js';
import { units } from '../routing/choices.js';
import { hrefOf } from '../routing/location.js';
import { type Strip, stripsOf } from './strips.js';

interface SignalStripProps {
  readonly machineId: string;
  readonly derate: DerateDetail;
  readonly timeZone: string;
}

/** Hours before the derate and after it that are drawn. */
const beforeMs = 4 * 3_600_000;
const afterMs = 1_800_000;
const channels = [
  'engineSpeedRpm',
  'engineLoadPct',
  'scrInletTempC',
  'defLevelPct',
  'defConcentrationPct',
  'noxInPpm',
  'noxOutPpm',
  'dpfSootPct',
  'torqueLimitPct',
  'batteryV',
];
const width = 600;
const height = 34;

/** The key signals around the start of the derate. */
export function SignalStrip({ machineId, derate, timeZone }: SignalStripProps) {
  const atMs = Date.parse(derate.startedAt);
  const from = new Date(atMs - beforeMs).toISOString();
  const to = new Date(atMs + afterMs).toISOString();
  const query = { from, to, channels: channels.join(','), buckets: 270 };
  const answer = useCall((signal) => api.getMachineSamples({ path: { machineId }, query, signal }), derate.id).value;
  const series = answer?.ok === true ? answer.body : null;
  const strips = series === null ? [] : stripsOf(series, { fromMs: atMs - beforeMs, toMs: atMs + afterMs, atMs });
  if (series !== null && strips.length === 0) return null;
  return (
    <section class="strips" aria-labelledby="strips-title">
      <h2 id="strips-title">
        Signals around it{' '}
        <span class="head-note">
          {formatInstant(atMs - beforeMs, timeZone, nowMs.peek())} to {formatClock(atMs + afterMs, timeZone)}; the line
          is the start of the derate
        </span>
      </h2>
      <table class="figures strip-table">
        <thead>
          <tr>
            <th scope="col">Signal</th>
            <th scope="col" class="strip-course">
              Course
            </th>
            <th scope="col">An hour before</th>
            <th scope="col">Then</th>
          </tr>
        </thead>
        <tbody>
          {strips.map((strip) => (
            <StripRow key={strip.channel} strip={strip} />
          ))}
        </tbody>
      </table>
      <p>
        <a href={chartsHref(machineId, { from, to })}>All charts of this time</a>
      </p>
    </section>
  );
}

/** The machine's charts over the same time. */
function chartsHref(machineId: string, range: { from: string; to: string }): string {
  const page = hrefOf(`/machines/${encodeURIComponent(machineId)}`);
  return `${page}${page.includes('?') ? '&' : '?'}${new URLSearchParams(range)}#record-title`;
}

function StripRow({ strip }: { readonly strip: Strip }) {
  const markX = (beforeMs / (beforeMs + afterMs)) * width;
  const words = (value: number | null) => formatQuantity(value, strip.unit, units.value);
  return (
    <tr>
      <th scope="row">{strip.label}</th>
      <td class="strip-course">
        <svg viewBox={`0 0 ${width} ${height}`} preserveAspectRatio="none" aria-hidden="true">
          <path class="strip-line" d={strip.path(width, height)} />
          <path class="derate-mark" d={`M${markX} 0V${height}`} />
        </svg>
      </td>
      <td>{words(strip.hourBefore)}</td>
      <td>{words(strip.atStart)}</td>
    </tr>
  );
}

import type { DerateDetail, OriginDocument } from '@warmbrick/contracts';
import { nowMs } from '../api/server-clock.js';
import { formatInstant } from '../format/instant.js';

interface CourseOfFaultsProps {
  readonly derate: DerateDetail;
  readonly origins: readonly OriginDocument[];
  readonly timeZone: string;
  /** When the machine was last heard of. */
  readonly seenMs: number;
}

/** Faults that are drawn; the others stand in the list below. */
const mostRows = 8;
/** Room before the first fault, as a share of the span. */
const leadRatio = 0.03;

/** What came first: when each fault was active, against when the power was taken. */
export function CourseOfFaults({ derate, origins, timeZone, seenMs }: CourseOfFaultsProps) {
  const now = nowMs.peek();
  const endMs = derate.endedAt === null ? seenMs : Date.parse(derate.endedAt);
  const derateMs = Date.parse(derate.startedAt);
  const rows = [...origins].slice(0, mostRows).sort((a, b) => Date.parse(a.startedAt) - Date.parse(b.startedAt));
  const firstMs = Math.min(derateMs, ...rows.map(({ startedAt }) => Date.parse(startedAt)));
  // A long derate would squeeze what led to it into nothing.
  const lastMs = Math.min(endMs, derateMs + Math.max(3_600_000, derateMs - firstMs));
  const leadMs = (lastMs - firstMs) * leadRatio;
  const at = (timeMs: number) =>
    `${Math.min(100, Math.max(0, ((timeMs - firstMs + leadMs) / (lastMs - firstMs + leadMs)) * 100))}%`;
  const width = (fromMs: number, toMs: number) =>
    `${Math.max(0.6, Number.parseFloat(at(toMs)) - Number.parseFloat(at(fromMs)))}%`;
  return (
    <section class="course-of-faults" aria-labelledby="course-title">
      <h2 id="course-title">
        What came first <span class="head-note">faults that can take power, and the derate</span>
      </h2>
      <ol>
        {rows.map((origin) => {
          const fromMs = Date.parse(origin.startedAt);
          const toMs = origin.endedAt === null ? lastMs : Math.min(lastMs, Date.parse(origin.endedAt));
          return (
            <li key={origin.faultId} class={origin.isOrigin ? 'is-origin' : undefined}>
              <span class="fault-name">
                <b>
                  {origin.spn}/{origin.fmi}
                </b>{' '}
                {origin.spnWords}
              </span>
              <svg class="fault-span" height="18" aria-hidden="true">
                <rect class="fault-bar" x={at(fromMs)} y="3" width={width(fromMs, toMs)} height="12" />
                <line class="derate-mark" x1={at(derateMs)} x2={at(derateMs)} y1="0" y2="18" />
              </svg>
              <span class="fault-when">
                {formatInstant(fromMs, timeZone, now)}
                {origin.endedAt === null
                  ? ', still active'
                  : ` to ${formatInstant(Date.parse(origin.endedAt), timeZone, now)}`}
              </span>
            </li>
          );
        })}
        <li class="is-derate">
          <span class="fault-name">
            <b>Power taken</b>
          </span>
          <svg class="fault-span" height="18" aria-hidden="true">
            <rect class="derate-bar" x={at(derateMs)} y="3" width={width(derateMs, lastMs)} height="12" />
            <line class="derate-mark" x1={at(derateMs)} x2={at(derateMs)} y1="0" y2="18" />
          </svg>
          <span class="fault-when">from {formatInstant(derateMs, timeZone, now)}</span>
        </li>
      </ol>
    </section>
  );
}

import { useSignal } from '@preact/signals';
import { nowMs } from '../api/server-clock.js';

interface HandoverPanelProps {
  readonly machineId: string;
  readonly lastSampleAt: string | null;
  readonly timeZone: string;
}

const dayMs = 86_400_000;
/** Period that is offered first. */
const usualDays = 30;

/** The sheet for the dealer: a page to print, or a file to send. */
export function HandoverPanel({ machineId, lastSampleAt, timeZone }: HandoverPanelProps) {
  const lastMs = lastSampleAt === null ? nowMs.peek() : Date.parse(lastSampleAt);
  const from = useSignal(dayText(lastMs - usualDays * dayMs));
  const to = useSignal(dayText(lastMs));
  const isMasked = useSignal(false);
  const isInOrder = from.value <= to.value && from.value !== '' && to.value !== '';
  const address = (format: string) => {
    const end = new Date(Date.parse(`${to.value}T00:00:00Z`) + dayMs).toISOString();
    const query = new URLSearchParams({
      from: `${from.value}T00:00:00Z`,
      to: end,
      mask: String(isMasked.value),
      format,
    });
    return `/v1/machines/${encodeURIComponent(machineId)}/handover?${query}`;
  };
  return (
    <section aria-labelledby="handover-title">
      <h2 id="handover-title">Sheet for the dealer</h2>
      <p>
        Every code that ever occurred, the derates with their origin, the signals around each, what the machine did and
        what was done to it.
      </p>
      <div class="record-form">
        <label class="field">
          <span>From the day</span>
          <input type="date" value={from.value} onInput={(event) => (from.value = event.currentTarget.value)} />
        </label>
        <label class="field">
          <span>To the day, UTC{timeZone === 'UTC' ? '' : '; the sheet shows the machine’s own time'}</span>
          <input type="date" value={to.value} onInput={(event) => (to.value = event.currentTarget.value)} />
        </label>
        <label class="tick field-wide">
          <input
            type="checkbox"
            checked={isMasked.value}
            onChange={(event) => (isMasked.value = event.currentTarget.checked)}
          />
          leave out which machine it is and where it works
        </label>
      </div>
      {isInOrder ? (
        <p class="handover-links">
          <a href={address('html')} target="_blank" rel="noopener">
            Open to print
          </a>
          <a href={address('pdf')}>Save as PDF</a>
          <a href={address('csv')}>Save as CSV</a>
          <a href={address('json')}>Save as JSON</a>
        </p>
      ) : (
        <p role="alert">The first day must not come after the last.</p>
      )}
    </section>
  );
}

function dayText(timeMs: number): string {
  return new Date(timeMs).toISOString().slice(0, 10);
}

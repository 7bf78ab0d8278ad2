import type { InducementClockDocument } from '@warmbrick/contracts';
import { nowMs } from '../api/server-clock.js';
import { formatInstant } from '../format/instant.js';
import { classWords, stepWords } from './derate-words.js';

interface ClockTableProps {
  readonly clocks: readonly InducementClockDocument[];
  readonly timeZone: string;
}

/** How long until the next step of an inducement, by each schedule that may hold; what is from memory says so. */
export function ClockTable({ clocks, timeZone }: ClockTableProps) {
  if (clocks.length === 0) return null;
  const now = nowMs.peek();
  return (
    <section aria-labelledby="clock-title">
      <h2 id="clock-title">
        Inducement clock <span class="head-note">which schedule holds, the machine’s papers say</span>
      </h2>
      <div class="clocks">
        {clocks.map((clock) => (
          <div key={clock.scheduleId} class="clock">
            <h3>
              {clock.title} {clock.fromMemory && <span class="from-memory">from memory</span>}
            </h3>
            {clock.lines.map((line) => (
              <div key={line.inducementClass}>
                <p>
                  {classWords(line.inducementClass)}, active from{' '}
                  {formatInstant(Date.parse(line.startedAt), timeZone, now)}
                  {line.isRepeat && '; it came again, so the shorter steps hold'}.
                </p>
                <ol class="clock-steps">
                  {line.steps.map((step) => (
                    <li key={step.text} class={step.isReached ? 'is-reached' : undefined}>
                      <span>{step.text}</span> <b>{stepWords(step, line.isUpperBound)}</b>
                      {step.fromMemory && <span class="from-memory">from memory</span>}
                    </li>
                  ))}
                </ol>
                <p class="quiet">Cleared by {line.clears}.</p>
              </div>
            ))}
            <p class="quiet clock-source">Source: {clock.source}</p>
          </div>
        ))}
      </div>
      <p class="quiet">{clocks[0]?.caution}</p>
    </section>
  );
}

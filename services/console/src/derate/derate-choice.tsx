import type { DerateItem } from '@warmbrick/contracts';
import { nowMs } from '../api/server-clock.js';
import { formatInstant } from '../format/instant.js';
import { setQuery } from '../routing/location.js';
import { lengthWords, verdictWords } from './derate-words.js';

interface DerateChoiceProps {
  readonly items: readonly DerateItem[];
  readonly chosen: DerateItem;
  readonly timeZone: string;
  readonly seenMs: number;
}

/** All derates of the machine, the newest first; one is looked into. */
export function DerateChoice({ items, chosen, timeZone, seenMs }: DerateChoiceProps) {
  const now = nowMs.peek();
  return (
    <section class="derate-choice" aria-labelledby="choice-title">
      <h2 id="choice-title">
        {items.length} derates <span class="head-note">choose the one to look into</span>
      </h2>
      <ol>
        {items.map((item) => (
          <li key={item.id}>
            <button
              type="button"
              aria-pressed={item.id === chosen.id}
              onClick={() => setQuery({ d: item.startedAt }, 'push')}
            >
              <b>{formatInstant(Date.parse(item.startedAt), timeZone, now)}</b>
              <span>{lengthWords(item, seenMs)}</span>
              <span class="quiet">{verdictWords(item.inquiry)}</span>
            </button>
          </li>
        ))}
      </ol>
    </section>
  );
}

import type { MachineItem } from '@warmbrick/contracts';
import { nowMs } from '../api/server-clock.js';
import { freshness } from '../format/freshness.js';
import { modeWords } from '../format/mode-words.js';

interface NowCellProps {
  readonly mode: MachineItem['mode'];
  readonly lastSampleAt: string;
  readonly timeZone: string;
}

/** What the machine does now, or what it did when it was last heard. Apart, since it changes every second. */
export function NowCell({ mode, lastSampleAt, timeZone }: NowCellProps) {
  const fresh = freshness(Date.parse(lastSampleAt), nowMs.value, timeZone);
  return (
    <span class={fresh.isSilent ? 'now silent' : 'now'}>
      <span class="now-mode">{modeWords(mode, fresh.isSilent)}</span>
      <span class="now-age">{fresh.words}</span>
    </span>
  );
}

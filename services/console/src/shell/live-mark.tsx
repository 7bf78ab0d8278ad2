import { signal } from '@preact/signals';
import { streamState } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { formatDuration } from '../format/duration.js';
import { silentAfterMs } from '../format/freshness.js';

/** The newest sample of what the page shows. Units: epoch ms. Missing: null while nothing is loaded. */
export const newestSampleMs = signal<number | null>(null);

/** Says "live" only while events arrive and what is shown is fresh. */
export function LiveMark() {
  const state = liveState();
  return (
    <p class={`live live-${state.code}`} role="status">
      <span class="live-sign" aria-hidden="true" />
      {state.words}
    </p>
  );
}

function liveState(): { code: 'live' | 'quiet' | 'lost'; words: string } {
  if (streamState.value !== 'open') {
    return { code: 'lost', words: streamState.value === 'connecting' ? 'connecting' : 'reconnecting' };
  }
  if (newestSampleMs.value === null) return { code: 'quiet', words: 'connected' };
  const ageMs = nowMs.value - newestSampleMs.value;
  if (ageMs <= silentAfterMs) return { code: 'live', words: 'live' };
  return { code: 'quiet', words: `not live: newest sample is ${formatDuration(ageMs / 1000)} old` };
}

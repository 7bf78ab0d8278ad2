import { useEffect, useMemo } from 'preact/hooks';
import { streamState } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { formatDuration } from '../format/duration.js';
import { countStandings } from './alert-groups.js';
import { createAlertBoard } from './alert-store.js';

/** How many alerts wait for somebody, beside the way to them; nothing when none does. Without the stream it says how old it is. */
export function WaitingCount() {
  const board = useMemo(() => createAlertBoard({ hasOver: false }), []);
  useEffect(() => {
    void board.load();
    return () => board.stop();
  }, [board]);
  const readMs = board.readMs.value;
  if (readMs === null) return null;
  const { waiting } = countStandings([...board.alerts.value.values()]);
  const isLost = streamState.value === 'lost';
  const count = board.hasMore.value ? `${waiting}+` : `${waiting}`;
  const words = `${count} ${waiting === 1 ? 'waits' : 'wait'} for somebody`;
  const age = isLost ? `, as it stood ${formatDuration((nowMs.value - readMs) / 1000)} ago` : '';
  return (
    <>
      {waiting > 0 && (
        <span class={isLost ? 'waiting-count waiting-old' : 'waiting-count'} aria-hidden="true" title={words + age}>
          {count}
        </span>
      )}
      <span class="unseen">
        : {waiting > 0 ? words : 'none waits for somebody'}
        {age}
      </span>
    </>
  );
}

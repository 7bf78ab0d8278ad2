/** Time of a machine's newest sample, as the stream tells it. */

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { onMachine } from '../api/live-stream.js';
import { throttle } from '../api/throttle.js';

/** New samples are fetched this often at most while the latest day is shown. */
const appendIntervalMs = 10_000;

/** The newest sample that the charts reach to; it follows the machine in steps while the latest day is shown. */
export function useLatestMs(machineId: string, lastSampleAt: string, isLatest: boolean): number {
  const latestMs = useSignal(Date.parse(lastSampleAt));
  useEffect(() => {
    latestMs.value = Math.max(latestMs.peek(), Date.parse(lastSampleAt));
  }, [lastSampleAt, latestMs]);
  useEffect(() => {
    if (!isLatest) return;
    let heardMs = latestMs.peek();
    const move = throttle(() => {
      latestMs.value = Math.max(latestMs.peek(), heardMs);
    }, appendIntervalMs);
    const off = onMachine((event) => {
      if (event.machineId !== machineId) return;
      heardMs = Date.parse(event.lastSampleAt);
      move();
    });
    return () => {
      off();
      move.cancel();
    };
  }, [machineId, isLatest, latestMs]);
  return latestMs.value;
}

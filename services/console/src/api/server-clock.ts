/** The present, by the server's clock: a tablet with a wrong clock must not call a silent machine live. */

import { signal } from '@preact/signals';

/** Ticks once a second while the page is visible. Units: epoch ms. */
export const nowMs = signal(Date.now());

/** The Date header has a resolution of a second and is late by the way here; smaller differences are noise. */
const leastOffsetMs = 5000;
let offsetMs = 0;

/** Learns the difference between the two clocks from a `Date` header. Missing: ignored when absent or unreadable. */
export function noteServerDate(header: string | null): void {
  const serverMs = header === null ? Number.NaN : Date.parse(header);
  if (Number.isNaN(serverMs)) return;
  const differenceMs = serverMs - Date.now();
  offsetMs = Math.abs(differenceMs) < leastOffsetMs ? 0 : differenceMs;
  // At once, not with the next tick: what arrived with this header is judged by it.
  nowMs.value = Date.now() + offsetMs;
}

/** Starts the tick; call once. */
export function startClock(): void {
  const tick = () => {
    if (document.visibilityState === 'visible') nowMs.value = Date.now() + offsetMs;
  };
  setInterval(tick, 1000);
  document.addEventListener('visibilitychange', tick);
}

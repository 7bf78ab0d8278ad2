/** Spaces calls: the first soon, then at most one in each interval, and never two at once. */

export interface Throttled {
  (): void;
  cancel(): void;
}

/** Wraps an action so that any number of calls runs it at most once per interval. Units: ms. */
export function throttle(action: () => Promise<void> | void, intervalMs: number): Throttled {
  let timer: ReturnType<typeof setTimeout> | null = null;
  let lastMs = Number.NEGATIVE_INFINITY;
  let isStopped = false;
  const run = async () => {
    await action();
    lastMs = performance.now();
    timer = null;
  };
  const call = () => {
    if (timer !== null || isStopped) return;
    timer = setTimeout(run, Math.max(0, lastMs + intervalMs - performance.now()));
  };
  const cancel = () => {
    isStopped = true;
    if (timer !== null) clearTimeout(timer);
  };
  return Object.assign(call, { cancel });
}

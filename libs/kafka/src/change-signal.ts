/** Waiting for something to change. */

import { setTimeout as sleep } from 'node:timers/promises';

export interface ChangeSignal {
  /** Resolves at the next `wake`, after `atMostMs` at the latest. */
  wait(atMostMs: number): Promise<void>;
  wake(): void;
}

/** A signal that nobody waits for yet. */
export function createChangeSignal(): ChangeSignal {
  const waiting = new Set<() => void>();
  return {
    wait: async (atMostMs) => {
      const timer = new AbortController();
      let wake = () => {};
      const change = new Promise<void>((resolve) => {
        wake = resolve;
      });
      waiting.add(wake);
      await Promise.race([change, sleep(Math.max(1, atMostMs), undefined, { signal: timer.signal }).catch(() => {})]);
      waiting.delete(wake);
      timer.abort();
    },
    wake: () => {
      for (const wake of waiting) wake();
      waiting.clear();
    },
  };
}

import { startStoreUpkeep, usualRetention } from '@warmbrick/ingest';
import type { Retired } from '@warmbrick/store';
import { describe, expect, it, vi } from 'vitest';

const nothing: Retired = {
  sampleMonths: 0,
  chunks: 0,
  rows: 0,
  snapshots: 0,
  faults: 0,
  sentOutbox: 0,
  unsentOutbox: 0,
  rejects: 0,
  alerts: 0,
};

describe('upkeep of the store', () => {
  it('puts chunks together each hour and retires once a day, and goes on after a failure', async () => {
    vi.useFakeTimers({ now: Date.UTC(2026, 2, 2) });
    const compact = vi.fn(async () => 0);
    const retain = vi.fn(async () => ({ ...nothing, unsentOutbox: 3 }));
    const logger = { info: vi.fn(), warn: vi.fn(), error: vi.fn() };
    compact.mockRejectedValueOnce(new Error('away'));
    const upkeep = startStoreUpkeep({ store: { compact, retain }, logger });
    await vi.advanceTimersByTimeAsync(26 * 3_600_000);
    await upkeep.stop();
    vi.useRealTimers();
    expect(compact).toHaveBeenCalledTimes(26);
    expect(compact).toHaveBeenLastCalledWith(Date.UTC(2026, 2, 3, 1), 2000);
    expect(retain).toHaveBeenCalledTimes(1);
    expect(retain).toHaveBeenCalledWith(usualRetention, Date.UTC(2026, 2, 3));
    expect(logger.warn.mock.calls.map(([, message]) => message)).toEqual([
      'upkeep of the store failed',
      'findings were never told to anybody',
    ]);
  });
});

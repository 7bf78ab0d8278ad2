import { fc, test } from '@fast-check/vitest';
import { assignPartitions, judgeLife, type Member, planBatch } from '@warmbrick/kafka';
import { describe, expect } from 'vitest';

const partitionsOf = (count: number) => Array.from({ length: count }, (_, partition) => ({ topic: 't', partition }));
const membersOf = (names: readonly string[]): Member[] =>
  names.map((name) => ({ memberId: `id-${name}`, instanceName: name, topics: ['t'] }));

function ownersOf(names: readonly string[], count: number): Map<number, string> {
  const owners = new Map<number, string>();
  for (const [memberId, share] of assignPartitions(membersOf(names), partitionsOf(count))) {
    for (const { partition } of share) owners.set(partition, memberId);
  }
  return owners;
}

const someNames = fc.uniqueArray(fc.string({ minLength: 1, maxLength: 12 }), { minLength: 1, maxLength: 12 });

describe('sharing out partitions', () => {
  test.prop([someNames, fc.integer({ min: 0, max: 60 })])('gives each to one member, evenly', (names, count) => {
    const shares = [...assignPartitions(membersOf(names), partitionsOf(count)).values()];
    const all = shares.flat().map(({ partition }) => partition);
    expect(all.sort((a, b) => a - b)).toEqual(partitionsOf(count).map(({ partition }) => partition));
    expect(Math.max(...shares.map(({ length }) => length))).toBeLessThanOrEqual(Math.ceil(count / names.length));
  });

  test.prop([someNames, fc.integer({ min: 0, max: 60 })])(
    'does not depend on the order of the members',
    (names, count) => {
      expect(ownersOf([...names].reverse(), count)).toEqual(ownersOf(names, count));
    },
  );

  test('keeps most partitions in place when a member comes', () => {
    const before = ownersOf(['pod-0', 'pod-1', 'pod-2'], 48);
    const after = ownersOf(['pod-0', 'pod-1', 'pod-2', 'pod-3'], 48);
    const moved = [...after].filter(([partition, owner]) => owner !== before.get(partition) && owner !== 'id-pod-3');
    // A quarter has to move to the newcomer; beyond that only what the bound on the load displaces.
    expect([...after].filter(([, owner]) => owner === 'id-pod-3')).toHaveLength(12);
    expect(moved.length).toBeLessThanOrEqual(8);
  });

  test('gives a topic only to members that read it', () => {
    const members = [
      { memberId: 'a', instanceName: 'a', topics: ['t'] },
      { memberId: 'b', instanceName: 'b', topics: ['u'] },
    ];
    const shares = assignPartitions(members, [...partitionsOf(4), { topic: 'u', partition: 0 }]);
    expect(shares.get('a')?.every(({ topic }) => topic === 't')).toBe(true);
    expect(shares.get('b')).toEqual([{ topic: 'u', partition: 0 }]);
  });
});

describe('planning a batch', () => {
  const range = (fetchedOffset: number, lastOffset: number, endOffset = 100) => ({
    fetchedOffset,
    lastOffset,
    endOffset,
  });

  test('takes what begins at or before the position and ends after it', () => {
    expect(planBatch(10, range(10, 19), null)).toEqual({ step: 'take' });
    expect(planBatch(10, range(5, 10), null)).toEqual({ step: 'take' });
  });

  test('goes on at the position when a batch is about what is done', () => {
    expect(planBatch(10, range(5, 9), null)).toEqual({ step: 'seek' });
  });

  test('goes back once, then accepts that messages are gone', () => {
    expect(planBatch(10, range(50, 59), null)).toEqual({ step: 'seek' });
    expect(planBatch(10, range(50, 59), 10)).toEqual({ step: 'take-after-gap' });
    expect(planBatch(10, range(50, 59), 9)).toEqual({ step: 'seek' });
  });

  test('sees a log that ends before the position', () => {
    expect(planBatch(101, range(0, 9), null)).toEqual({ step: 'log-too-short' });
    expect(planBatch(100, range(0, 9), null)).toEqual({ step: 'seek' });
  });
});

describe('judging life', () => {
  const alive = { startedMs: 0, lastFetchMs: 990, lastHeartbeatMs: 990, lastProgressMs: 990, behindSinceMs: null };

  test('finds nothing wrong with a consumer that fetches and has nothing to do', () => {
    expect(judgeLife({ ...alive, lastProgressMs: 0 }, 1000, 100)).toBeNull();
  });

  test('misses fetches, heartbeats and progress', () => {
    expect(judgeLife({ ...alive, lastFetchMs: 800 }, 1000, 100)).toBe('no-fetch');
    expect(judgeLife({ ...alive, lastHeartbeatMs: 800 }, 1000, 100)).toBe('no-heartbeat');
    expect(judgeLife({ ...alive, lastProgressMs: 500, behindSinceMs: 600 }, 1000, 100)).toBe('no-progress');
    expect(judgeLife({ ...alive, lastProgressMs: 500, behindSinceMs: 950 }, 1000, 100)).toBeNull();
  });

  test('gives a new consumer time', () => {
    expect(judgeLife({ ...alive, startedMs: 950, lastFetchMs: 0, lastHeartbeatMs: 0 }, 1000, 100)).toBeNull();
  });
});

import {
  type FaultEpisode,
  type FaultInput,
  type FaultLogState,
  type FaultNotice,
  foldedToMs,
  foldFaults,
  initialFaultLog,
  openEpisodes,
  refoldFaults,
  refoldFromMs,
  withdrawnEpisodeIds,
} from '@warmbrick/analysis';
import type { FaultReport } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 2, 6);
const off = { malfunction: 'off', redStop: 'off', amberWarning: 'off', protect: 'off' } as const;
type Code = readonly [spn: number, fmi: number, count?: number];

const list = (atS: number, codes: readonly Code[], more: Partial<FaultReport> = {}): FaultReport => ({
  machineId: 'm',
  timeMs: startMs + atS * 1000,
  sourceAddress: 0,
  kind: 'active',
  lamps: off,
  flash: 255,
  codes: codes.map(([spn, fmi, count = 1]) => ({ spn, fmi, occurrenceCount: count, conversionMethod: 0 })),
  ...more,
});
const notice = (atS: number, kind: FaultNotice['kind'], more: Partial<FaultNotice> = {}): FaultNotice => ({
  machineId: 'm',
  timeMs: startMs + atS * 1000,
  sourceAddress: null,
  kind,
  origin: 'event',
  spn: 110,
  fmi: 0,
  ...more,
});
const fold = (inputs: readonly FaultInput[]) => [...foldFaults(initialFaultLog, inputs).episodes];
const inS = (timeMs: number | null) => (timeMs === null ? null : (timeMs - startMs) / 1000);
const brief = (episodes: readonly FaultEpisode[]) =>
  episodes.map((one) => `${one.spn}/${one.fmi} ${inS(one.startedMs)}-${inS(one.endedMs) ?? ''} x${one.occurrences}`);

describe('becoming active and clearing', () => {
  it('runs from the first list with the code to the first one without it', () => {
    const [episode] = fold([list(0, []), list(10, [[110, 0]]), list(70, [[110, 0]]), list(90, []), list(150, [])]);
    expect(episode).toMatchObject({
      spn: 110,
      fmi: 0,
      sourceAddress: 0,
      startedMs: startMs + 10_000,
      absentAtMs: startMs,
      endedMs: startMs + 90_000,
      endedBy: 'list',
      lastSeenMs: startMs + 70_000,
      occurrences: 1,
      reportedCount: 1,
      origin: 'dm1',
      isPreviouslyActiveOnly: false,
    });
  });

  it('does not clear a code that is missing from lists for less than the debounce', () => {
    expect(brief(fold([list(0, [[110, 0]]), list(20, []), list(25, [[110, 0]]), list(85, [[110, 0]])]))).toEqual([
      '110/0 0- x1',
    ]);
  });

  it('clears it at its first absence once that lasted', () => {
    expect(brief(fold([list(0, [[110, 0]]), list(20, []), list(29, []), list(31, [])]))).toEqual(['110/0 0-20 x1']);
  });

  it('counts a return after the debounce as another occurrence, even without a list in between', () => {
    const episodes = fold([list(0, [[110, 0]]), list(20, []), list(60, [[110, 0, 2]])]);
    expect(brief(episodes)).toEqual(['110/0 0-20 x1', '110/0 60- x2']);
    expect(episodes[1]?.reportedCount).toBe(2);
  });

  it('takes silence of a controller for nothing: neither time nor lists of others clear', () => {
    const other = { sourceAddress: 61 };
    const episodes = fold([list(0, [[5394, 5]], other), list(3600, []), list(90_000, []), list(900_000, [[110, 0]])]);
    expect(brief(episodes)).toContain('5394/5 0- x1');
    expect(episodes.find(({ spn }) => spn === 5394)?.lastSeenMs).toBe(startMs);
  });

  it('keeps the codes of two controllers apart', () => {
    const episodes = fold([
      list(0, [[639, 9]]),
      list(1, [[639, 9]], { sourceAddress: 61 }),
      list(20, []),
      list(40, []),
    ]);
    expect(new Set(episodes.map(({ id }) => id)).size).toBe(2);
    expect(brief(episodes).sort()).toEqual(['639/9 0-20 x1', '639/9 1- x1']);
  });

  it('keeps each lamp at its most urgent, and the flash byte', () => {
    const [episode] = fold([
      list(0, [[110, 0]], { lamps: { ...off, amberWarning: 'on' } }),
      list(60, [[110, 0]], { lamps: { ...off, redStop: 'on' }, flash: 16 }),
      list(120, [[110, 0]]),
    ]);
    expect(episode?.lamps).toEqual({ ...off, amberWarning: 'on', redStop: 'on' });
    expect(episode?.flash).toBe(16);
  });
});

describe('other sources', () => {
  const previous = { kind: 'previously-active' } as const;

  it('logs a code only told as previously active, once', () => {
    const episodes = fold([list(0, [[4334, 18, 3]], previous), list(600, [[4334, 18, 4]], previous)]);
    expect(episodes).toHaveLength(1);
    expect(episodes[0]).toMatchObject({
      isPreviouslyActiveOnly: true,
      origin: 'dm2',
      reportedCount: 4,
      endedBy: 'unknown',
    });
  });

  it('takes no notice of a previously active code that was seen itself', () => {
    expect(brief(fold([list(0, [[110, 0]]), list(20, []), list(40, []), list(60, [[110, 0]], previous)]))).toEqual([
      '110/0 0-20 x1',
    ]);
  });

  it('follows messages about single codes', () => {
    const episodes = fold([notice(0, 'became-active'), notice(300, 'became-inactive')]);
    expect(episodes[0]).toMatchObject({ origin: 'event', endedMs: startMs + 300_000, endedBy: 'event' });
  });

  it('joins what a feed only tells to have occurred, and starts anew after an hour', () => {
    const feed = { origin: 'feed' } as const;
    const times = [0, 1800, 3600, 3600 + 3601];
    expect(brief(fold(times.map((atS) => notice(atS, 'occurred', feed))))).toEqual([
      '110/0 0-3600 x1',
      '110/0 7201-7201 x2',
    ]);
  });

  it('logs the end of a code that was never seen to begin', () => {
    expect(fold([notice(0, 'became-inactive')])[0]).toMatchObject({ isPreviouslyActiveOnly: true, origin: 'event' });
  });

  it('does not use what no clock can mean, nor another machine, and counts both', () => {
    const { state, episodes } = foldFaults(initialFaultLog, [
      list(0, [[110, 0]]),
      list(0, [[111, 1]], { timeMs: 5 }),
      list(0, [[111, 1]], { timeMs: Number.NaN }),
      list(9, [[111, 1]], { machineId: 'another' }),
    ]);
    expect(brief(episodes)).toEqual(['110/0 0- x1']);
    expect(state.unusable).toBe(3);
  });
});

describe('much and for long', () => {
  it('takes two hundred codes at once and clears them at once', () => {
    const codes = Array.from({ length: 200 }, (_, k): Code => [516_096 + k, k % 20]);
    const episodes = fold([list(0, []), list(10, codes), list(60, []), list(120, [])]);
    expect(episodes).toHaveLength(200);
    expect(new Set(episodes.map(({ endedMs }) => inS(endedMs)))).toEqual(new Set([60]));
  });

  it('keeps its state bounded: what rested longest is forgotten, what is active is not', () => {
    let state: FaultLogState = initialFaultLog;
    ({ state } = foldFaults(state, [list(0, [[110, 0]])]));
    for (let round = 0; round < 30; round++) {
      const codes = Array.from({ length: 100 }, (_, k): Code => [1000 + 100 * round + k, 3]);
      ({ state } = foldFaults(state, [list(100 * round + 10, [[110, 0], ...codes])]));
    }
    expect(Object.keys(state.controllers[0]?.codes ?? {})).toHaveLength(1024);
    expect(openEpisodes(state).map(({ spn }) => spn)).toContain(110);
    expect(JSON.stringify(state).length).toBeLessThan(500_000);
  });
});

/** Lists of two controllers over five codes, with messages among them; times repeat. */
const arbitraryInputs: fc.Arbitrary<FaultInput[]> = fc.array(
  fc.oneof(
    fc
      .tuple(
        fc.nat(200),
        fc.constantFrom(0, 61),
        fc.subarray([0, 1, 2, 3, 4]),
        fc.constantFrom('active', 'active', 'previously-active'),
      )
      .map(([step, sourceAddress, picks, kind]) =>
        list(
          step * 4,
          picks.map((k): Code => [100 + k, k]),
          { sourceAddress, kind: kind as FaultReport['kind'] },
        ),
      ),
    fc
      .tuple(
        fc.nat(200),
        fc.constantFrom('became-active', 'became-inactive', 'occurred'),
        fc.nat(4),
        fc.constantFrom(null, 0),
      )
      .map(([step, kind, k, sourceAddress]) =>
        notice(step * 4, kind as FaultNotice['kind'], { spn: 100 + k, fmi: k, sourceAddress }),
      ),
  ),
  { maxLength: 60 },
);
const runs = { numRuns: Number(process.env.RUNS ?? 100) };
const sorted = (episodes: readonly FaultEpisode[]) => [...episodes].sort((a, b) => (a.id < b.id ? -1 : 1));

describe('laws', () => {
  it('the order in which inputs are given does not matter, nor that they come twice', () => {
    fc.assert(
      fc.property(arbitraryInputs, fc.infiniteStream(fc.nat()), (inputs, picks) => {
        const shuffled = [...inputs, ...inputs];
        for (let i = shuffled.length - 1; i > 0; i--) {
          const j = (picks.next().value as number) % (i + 1);
          [shuffled[i], shuffled[j]] = [shuffled[j] as FaultInput, shuffled[i] as FaultInput];
        }
        expect(sorted(fold(shuffled))).toEqual(sorted(fold(inputs)));
      }),
      runs,
    );
  });

  it('cut anywhere, with the state through JSON, and late inputs folded again from a snapshot, it comes out the same', () => {
    fc.assert(
      fc.property(
        arbitraryInputs,
        fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1, maxLength: 5 }),
        (inputs, sizes) => {
          // A store as it would be: episodes by id, inputs by time, the state, and a snapshot after each fold.
          const episodes = new Map<string, FaultEpisode>();
          const seen: FaultInput[] = [];
          let state: FaultLogState = initialFaultLog;
          let snapshots: FaultLogState[] = [];
          for (let from = 0, k = 0; from < inputs.length; k++) {
            const batch = inputs.slice(from, from + (sizes[k % sizes.length] as number));
            from += batch.length;
            seen.push(...batch);
            state = JSON.parse(JSON.stringify(state)) as FaultLogState;
            const isLate = refoldFromMs(state, batch) !== null;
            const firstMs = Math.min(...batch.map(({ timeMs }) => timeMs));
            snapshots = snapshots.filter((one) => (foldedToMs(one) ?? Number.NEGATIVE_INFINITY) < firstMs);
            if (!isLate) {
              const folded = foldFaults(state, batch);
              for (const episode of folded.episodes) episodes.set(episode.id, episode);
              expect(folded.late).toEqual([]);
              state = folded.state;
              snapshots.push(state);
              continue;
            }
            const base = snapshots.at(-1) ?? initialFaultLog;
            const baseMs = foldedToMs(base) ?? Number.NEGATIVE_INFINITY;
            const folded = refoldFaults(
              base,
              seen.filter(({ timeMs }) => timeMs > baseMs),
            );
            const younger = [...episodes.values()].filter(({ startedMs }) => startedMs > baseMs);
            for (const id of withdrawnEpisodeIds(younger, folded.episodes)) episodes.delete(id);
            for (const episode of folded.episodes) episodes.set(episode.id, episode);
            state = folded.state;
            snapshots.push(state);
          }
          expect(sorted([...episodes.values()])).toEqual(sorted(fold(inputs)));
        },
      ),
      runs,
    );
  });

  it('a fold from a snapshot says what is open there, though nothing more came', () => {
    const { state } = foldFaults(initialFaultLog, [list(0, [[110, 0]])]);
    expect(brief(refoldFaults(state, []).episodes)).toEqual(['110/0 0- x1']);
    const { late } = foldFaults(state, [list(0, [[111, 1]])]);
    expect(late).toHaveLength(1);
  });

  it('nothing passed in is changed, and what is late changes nothing', () => {
    fc.assert(
      fc.property(arbitraryInputs, (inputs) => {
        const { state } = foldFaults(initialFaultLog, inputs);
        const before = JSON.stringify([state, inputs]);
        const again = foldFaults(state, inputs);
        expect(JSON.stringify([state, inputs])).toBe(before);
        expect(again.episodes).toEqual([]);
        expect(again.state).toEqual(state);
      }),
      runs,
    );
  });

  it('episodes of one code of one controller never overlap, and every end lies at or after its start', () => {
    fc.assert(
      fc.property(arbitraryInputs, (inputs) => {
        const byCode = new Map<string, FaultEpisode[]>();
        for (const episode of fold(inputs)) {
          expect(episode.endedMs ?? episode.startedMs).toBeGreaterThanOrEqual(episode.startedMs);
          const key = episode.id.replace(/~\d+$/, '');
          byCode.set(key, [...(byCode.get(key) ?? []), episode]);
        }
        for (const episodes of byCode.values()) {
          episodes.sort((a, b) => a.startedMs - b.startedMs);
          episodes.slice(1).forEach((episode, k) => {
            const before = episodes[k] as FaultEpisode;
            expect(before.endedMs).not.toBeNull();
            expect(before.endedMs as number).toBeLessThanOrEqual(episode.startedMs);
            expect(episode.occurrences).toBe(before.occurrences + 1);
          });
        }
      }),
      runs,
    );
  });
});

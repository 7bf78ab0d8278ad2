import {
  type AnalyzerSnapshot,
  builtInThresholds,
  createAnalyzer,
  createTimeline,
  detectorConfig,
  detectors,
  initialObserverState,
  observe,
} from '@warmbrick/analysis';
import { channelNames, defaultProfile, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { arbitraryRecording, createMemoryArchive } from '@warmbrick/testkit';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { analyse, comparable } from './analyse.js';

const config = detectorConfig(defaultProfile, builtInThresholds);
const runs = { numRuns: 120 };

/** Cuts a block at the given shares of its length. */
function cut(block: SampleBlock, shares: readonly number[]): SampleBlock[] {
  const length = block.timeMs.length;
  const at = [...new Set([0, ...shares.map((share) => Math.floor(share * length)), length])].sort((a, b) => a - b);
  return at.slice(1).map((to, k) => sliceBlock(block, at[k] as number, to));
}

const cuts = fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { maxLength: 6 });

describe.each(detectors.map((detector) => [detector.name, detector] as const))(
  'laws of the %s detector',
  (_name, detector) => {
    /** Folds blocks through observer and detector, keeping the last version of each event. */
    function fold(blocks: readonly SampleBlock[], between: (state: unknown) => unknown = (state) => state): string {
      let observer = initialObserverState;
      let state = detector.initial();
      const events = new Map<string, unknown>();
      for (const block of blocks) {
        const seen = observe(config, observer, block);
        const step = detector.step(config, state, seen.observed);
        const current = detector.current(config, step.state);
        for (const event of current === null ? step.events : [...step.events, current]) {
          events.set(`${event.kind} ${event.startedMs}`, event);
        }
        observer = between(seen.state) as typeof observer;
        state = between(step.state);
      }
      return JSON.stringify([...events.entries()].sort());
    }

    it('gives the same wherever the block is cut', () => {
      fc.assert(
        fc.property(arbitraryRecording(), cuts, (recording, shares) => {
          expect(fold(cut(recording, shares))).toBe(fold([recording]));
        }),
        runs,
      );
    });

    it('gives the same when its state goes through JSON', () => {
      fc.assert(
        fc.property(arbitraryRecording(), cuts, (recording, shares) => {
          const pieces = cut(recording, shares);
          expect(fold(pieces, (state) => JSON.parse(JSON.stringify(state)))).toBe(fold(pieces));
        }),
        runs,
      );
    });

    it('changes nothing that is passed in', () => {
      fc.assert(
        fc.property(arbitraryRecording(), (recording) => {
          const half = Math.floor(recording.timeMs.length / 2);
          const first = observe(config, initialObserverState, sliceBlock(recording, 0, half));
          const state = detector.step(config, detector.initial(), first.observed).state;
          const before = JSON.stringify([state, first.state]);
          const samples = JSON.stringify(recording);
          const second = observe(config, first.state, sliceBlock(recording, half, recording.timeMs.length));
          detector.step(config, state, second.observed);
          expect(JSON.stringify([state, first.state])).toBe(before);
          expect(JSON.stringify(recording)).toBe(samples);
        }),
        runs,
      );
    });

    it('says nothing without a usable sample', () => {
      fc.assert(
        fc.property(fc.array(fc.integer({ min: 1, max: 100_000 }), { minLength: 1, maxLength: 50 }), (steps) => {
          let at = 0;
          const timeMs = Float64Array.from(steps, (step) => (at += step * 1000));
          const empty = new Float32Array(steps.length).fill(Number.NaN);
          const channels = Object.fromEntries(channelNames.map((name) => [name, empty]));
          expect(fold([{ machineId: 'test-machine', timeMs, channels }])).toBe('[]');
        }),
        runs,
      );
    });

    it('keeps its state bounded and every event with numbers', () => {
      fc.assert(
        fc.property(arbitraryRecording(40), (recording) => {
          const seen = observe(config, initialObserverState, recording);
          const step = detector.step(config, detector.initial(), seen.observed);
          // The DEF ledger holds the books of a tank.
          const mostBytes = detector.name === 'def-ledger' ? 2048 : 1024;
          expect(JSON.stringify(step.state).length).toBeLessThan(mostBytes);
          for (const event of step.events) {
            const numbers = Object.values(event.values).filter((value) => typeof value === 'number');
            expect(numbers.length).toBeGreaterThan(0);
            expect(numbers.every(Number.isFinite)).toBe(true);
          }
        }),
        runs,
      );
    });
  },
);

describe('laws of the analyzer', () => {
  it('gives the same findings, rows, score and state wherever the recording is cut, snapshots or not', () => {
    fc.assert(
      fc.property(arbitraryRecording(), cuts, (recording, shares) => {
        const whole = analyse(recording);
        const options = { machineId: 'test-machine', profile: defaultProfile, thresholds: builtInThresholds };
        let analyzer = createAnalyzer(options);
        const findings = new Map();
        const rows = new Map();
        for (const piece of cut(recording, shares)) {
          const result = analyzer.push(piece);
          for (const finding of result.findings) findings.set(finding.id, finding);
          for (const row of result.rows) rows.set(row.startedMs, row);
          const snapshot = JSON.parse(JSON.stringify(analyzer.snapshot())) as AnalyzerSnapshot;
          analyzer = createAnalyzer({ ...options, snapshot });
        }
        expect(comparable([...findings.values()])).toEqual(comparable(whole.findings));
        expect(JSON.stringify([...rows.values()])).toBe(JSON.stringify(whole.rows));
        expect(JSON.stringify(analyzer.summary())).toBe(JSON.stringify(whole.summary));
      }),
      { numRuns: 200 },
    );
  });

  it('keeps its state under 8 KiB', () => {
    fc.assert(
      fc.property(arbitraryRecording(40), (recording) => {
        const options = { machineId: 'test-machine', profile: defaultProfile, thresholds: builtInThresholds };
        const analyzer = createAnalyzer(options);
        analyzer.push(recording);
        expect(JSON.stringify(analyzer.snapshot()).length).toBeLessThan(8192);
      }),
      runs,
    );
  });
});

describe('any order of arrival, one answer', () => {
  const options = { machineId: 'test-machine', profile: defaultProfile, thresholds: builtInThresholds };

  /** Rows of a block in a given order, with some of them twice, as blocks of a few rows. */
  function deal(block: SampleBlock, order: readonly number[], sizes: readonly number[]): SampleBlock[] {
    const blocks: SampleBlock[] = [];
    let from = 0;
    for (let k = 0; from < order.length; k++) {
      const rows = order.slice(from, from + (sizes[k % sizes.length] as number));
      from += rows.length;
      const channels = Object.fromEntries(
        Object.entries(block.channels).map(([name, column]) => [
          name,
          column instanceof Float64Array
            ? Float64Array.from(rows, (i) => column[i] as number)
            : Float32Array.from(rows, (i) => (column as Float32Array)[i] as number),
        ]),
      );
      blocks.push({
        machineId: block.machineId,
        timeMs: Float64Array.from(rows, (i) => block.timeMs[i] as number),
        channels,
      });
    }
    return blocks;
  }

  /** A few blocks of rows swapped far, some rows repeated. */
  const disorder = fc.record({
    moves: fc.array(fc.tuple(fc.nat(), fc.nat(), fc.integer({ min: 1, max: 40 })), { maxLength: 6 }),
    repeats: fc.array(fc.nat(), { maxLength: 10 }),
    sizes: fc.array(fc.integer({ min: 1, max: 200 }), { minLength: 1, maxLength: 4 }),
  });

  it('ends in byte-identical findings, rows and summary, with snapshots through JSON and restarts', async () => {
    await fc.assert(
      fc.asyncProperty(arbitraryRecording(10), disorder, fc.nat(), async (recording, mess, restartAt) => {
        const length = recording.timeMs.length;
        fc.pre(length > 0);
        const order = Array.from({ length }, (_, i) => i);
        for (const [from, to, count] of mess.moves) {
          const rows = order.splice(from % length, count);
          order.splice(to % (order.length + 1), 0, ...rows);
        }
        for (const repeat of mess.repeats)
          order.splice(repeat % order.length, 0, order[(repeat * 7) % order.length] as number);

        const archive = createMemoryArchive('test-machine');
        let timeline = createTimeline({ ...options, ports: archive.ports });
        const blocks = deal(recording, order, mess.sizes);
        for (const [k, block] of blocks.entries()) {
          archive.commit(await timeline.accept(block));
          if (k === restartAt % blocks.length) {
            const snapshot = JSON.parse(JSON.stringify(timeline.snapshot())) as AnalyzerSnapshot;
            timeline = createTimeline({ ...options, ports: archive.ports, snapshot });
          }
        }
        const whole = analyse(recording);
        expect(comparable(archive.findings())).toEqual(comparable(whole.findings));
        expect(JSON.stringify(archive.rows())).toBe(JSON.stringify(whole.rows));
        expect(JSON.stringify(timeline.summary())).toBe(JSON.stringify(whole.summary));
      }),
      { numRuns: Number(process.env.RUNS ?? 150) },
    );
  });

  it('changes nothing when everything comes twice', async () => {
    await fc.assert(
      fc.asyncProperty(arbitraryRecording(6), async (recording) => {
        fc.pre(recording.timeMs.length > 0);
        const archive = createMemoryArchive('test-machine');
        const timeline = createTimeline({ ...options, ports: archive.ports });
        archive.commit(await timeline.accept(recording));
        const again = await timeline.accept(recording);
        expect(again).toEqual({
          findings: [],
          withdrawnFindingIds: [],
          rows: [],
          samples: [],
          keptSnapshots: [],
          rewoundToMs: null,
        });
      }),
      runs,
    );
  });
});

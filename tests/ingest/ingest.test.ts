import { OperatingError } from '@warmbrick/runtime';
import { sliceBlock } from '@warmbrick/signals';
import type { MachineChange } from '@warmbrick/store';
import fc from 'fast-check';
import { describe, expect, it, vi } from 'vitest';
import { changeOf, finding } from '../alerts-api/fleet.js';
import { createMemoryStore, type MemoryStore } from '../alerts-api/memory-store.js';
import { contentsOf, pieces, profileOf, simulated, startMs, testIngest } from './drive.js';

const whole = simulated('m1');
const minutes = pieces(whole, 300);

async function inOrder(): Promise<Awaited<ReturnType<typeof contentsOf>>> {
  const store = createMemoryStore();
  const ingest = testIngest(store);
  for (const piece of minutes) await ingest.accept([piece]);
  return contentsOf(store, 'm1');
}

const unavailable = () => new OperatingError('gone', { code: 'store-unavailable', isRetriable: true });

describe('the pipeline', () => {
  it('finds what the machine did', async () => {
    const { findings, summary, samples } = await inOrder();
    expect(findings.map(({ kind }) => kind)).toEqual(
      expect.arrayContaining(['engine-run', 'idle-streak', 'hot-shutdown']),
    );
    expect(summary?.score?.value).toBeGreaterThan(0);
    expect(samples).toHaveLength(whole.timeMs.length);
  });

  it('any order, repetition and batching of arrival ends the same', async () => {
    const expected = await inOrder();
    const arrivals = fc
      .tuple(
        fc.shuffledSubarray(minutes, { minLength: minutes.length }),
        fc.subarray(minutes, { maxLength: 6 }),
        fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1, maxLength: 8 }),
      )
      .map(([shuffled, repeated, sizes]) => ({ arriving: [...shuffled, ...repeated], sizes }));
    await fc.assert(
      fc.asyncProperty(arrivals, async ({ arriving, sizes }) => {
        const store = createMemoryStore();
        const ingest = testIngest(store);
        for (let from = 0, turn = 0; from < arriving.length; turn++) {
          const size = sizes[turn % sizes.length] ?? 1;
          await ingest.accept(arriving.slice(from, from + size));
          from += size;
        }
        expect(await contentsOf(store, 'm1')).toEqual(expected);
      }),
      { numRuns: 12 },
    );
  });

  it('a restart anywhere goes on from what is stored', async () => {
    const expected = await inOrder();
    const store = createMemoryStore();
    for (const [at, piece] of minutes.entries()) {
      const ingest = testIngest(store);
      // Late ones too, after the restart: the samples before them are in the archive only.
      if (at % 5 !== 3) await ingest.accept([piece]);
      if (at % 5 === 4) await ingest.accept([minutes[at - 1] ?? piece]);
      await ingest.close();
    }
    const last = testIngest(store);
    await last.accept(minutes.filter((_, at) => at % 5 === 3));
    expect(await contentsOf(store, 'm1')).toEqual(expected);
  });

  it('a state of another version is made anew from the archive, and what it had found wrongly is withdrawn', async () => {
    const expected = await inOrder();
    const store = createMemoryStore();
    const before = testIngest(store);
    for (const piece of minutes.slice(0, 20)) await before.accept([piece]);
    const { summary } = (await store.getMachine('m1')) ?? {};
    if (summary === undefined) throw new Error('the machine is not stored');
    const wrong = changeOf({ machineId: 'm1', fromMs: startMs, toMs: startMs, findings: [finding('m1', startMs + 5)] });
    const snapshot = { version: -1, machineId: 'm1', thresholdSet: 'built-in-0', states: {} };
    await store.commit([{ ...wrong, summary, snapshot }], null);
    const after = testIngest(store);
    for (const piece of minutes.slice(20)) await after.accept([piece]);
    expect(await contentsOf(store, 'm1')).toEqual(expected);
  });

  it('machines of one batch do not touch each other', async () => {
    const store = createMemoryStore();
    const ingest = testIngest(store);
    const others = pieces(simulated('m2'), 300);
    for (const [at, piece] of minutes.entries()) await ingest.accept([piece, ...others.slice(at, at + 1)]);
    expect(await contentsOf(store, 'm1')).toEqual(await inOrder());
    expect((await contentsOf(store, 'm2')).findings.every(({ machineId }) => machineId === 'm2')).toBe(true);
  });
});

describe('when the store fails', () => {
  it('before or after a commit took effect, nothing is lost and nothing comes twice', async () => {
    const expected = await inOrder();
    const store = createMemoryStore();
    const changed: MachineChange[] = [];
    const limits = { firstRetryMs: 1, longestRetryMs: 2 };
    const ingest = testIngest(store, { limits, onChange: (changes) => changed.push(...changes) });
    const { epoch } = await store.claim('files', 0);
    let calls = 0;
    store.beforeCommit = () => {
      if (++calls % 3 === 1) throw unavailable();
    };
    let answers = 0;
    store.afterCommit = () => {
      // The commit is done, but its answer never arrives.
      if (++answers % 4 === 2) throw unavailable();
    };
    for (const [at, piece] of minutes.entries()) {
      await ingest.accept([piece], { cursor: { source: 'files', partition: 0, epoch, nextOffset: at + 1 } });
    }
    expect(await contentsOf(store, 'm1')).toEqual(expected);
    expect((await store.claim('files', 0)).nextOffset).toBe(minutes.length);
    expect(ingest.stats().retries).toBeGreaterThan(5);
  });

  it('tells listeners only of what is committed, and a failing listener undoes nothing', async () => {
    const store = createMemoryStore();
    const seen: number[] = [];
    const ingest = testIngest(store, {
      onChange: () => {
        seen.push(store.commits);
        throw new Error('a listener that fails');
      },
    });
    await ingest.accept(minutes.slice(0, 1));
    await ingest.accept(minutes.slice(1, 2));
    expect(seen).toEqual([1, 2]);
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(600);
  });

  it('what a retry does not mend goes to the source, and the next batch is taken from what is stored', async () => {
    const store = createMemoryStore();
    const ingest = testIngest(store);
    const { epoch } = await store.claim('files', 0);
    const cursor = (nextOffset: number, held: number) => ({ source: 'files', partition: 0, epoch: held, nextOffset });
    await ingest.accept(minutes.slice(0, 1), { cursor: cursor(1, epoch) });
    const later = await store.claim('files', 0);
    const fenced = ingest.accept(minutes.slice(1, 2), { cursor: cursor(2, epoch) });
    await expect(fenced).rejects.toMatchObject({ code: 'fenced' });
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(300);
    await ingest.accept(minutes.slice(1, 3), { cursor: cursor(3, later.epoch) });
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(900);
  });
});

describe('bounds', () => {
  it('makes the source wait while too many batches wait', async () => {
    const store = createMemoryStore();
    let isHeld = true;
    store.beforeCommit = () => {
      if (isHeld) throw unavailable();
    };
    const ingest = testIngest(store, { limits: { queuedBatches: 2, firstRetryMs: 1, longestRetryMs: 5 } });
    let reads = 0;
    const { loadSnapshot } = store;
    store.loadSnapshot = (machineId) => {
      reads++;
      return loadSnapshot(machineId);
    };
    let done = 0;
    const all = minutes.slice(0, 6).map((piece) => ingest.accept([piece]).then(() => done++));
    await vi.waitFor(() => expect(reads).toBeGreaterThan(3));
    expect(done).toBe(0);
    isHeld = false;
    await Promise.all(all);
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(1800);
  });

  it('puts samples from the future aside, except recorded ones', async () => {
    const store = createMemoryStore();
    const ingest = testIngest(store, { now: () => startMs + 100_000, limits: { futureMs: 20_000 } });
    await ingest.accept(minutes.slice(0, 1));
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(121);
    expect(ingest.stats().fromTheFuture).toBe(179);
    await ingest.accept(minutes.slice(0, 1), { isRecorded: true });
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(300);
  });

  it('holds few machines in memory and still knows all', async () => {
    const expected = await inOrder();
    const store = createMemoryStore();
    const ingest = testIngest(store, { limits: { machinesInMemory: 1 } });
    const others = pieces(simulated('m2'), 300);
    for (const [at, piece] of minutes.entries()) await ingest.accept([piece, ...others.slice(at, at + 1)]);
    expect(await contentsOf(store, 'm1')).toEqual(expected);
  });

  it('refuses a batch that is too large, with what to do', async () => {
    const ingest = testIngest(createMemoryStore(), { limits: { samplesPerBatch: 100 } });
    await expect(ingest.accept(minutes.slice(0, 1))).rejects.toMatchObject({ code: 'batch-too-large' });
  });
});

describe('machines and closing', () => {
  it('a changed profile holds from the next batch on', async () => {
    const store: MemoryStore = createMemoryStore();
    const ingest = testIngest(store);
    await ingest.register('m1', profileOf('Loader'));
    await ingest.accept([sliceBlock(whole, 0, 100)]);
    expect((await store.getMachine('m1'))?.profile.name).toBe('Loader');
    await ingest.register('m1', { ...profileOf('Loader'), baseIdleRpm: 800 });
    await ingest.accept([sliceBlock(whole, 100, 200)]);
    expect((await store.getMachine('m1'))?.profile.baseIdleRpm).toBe(800);
  });

  it('an empty batch moves the cursor; samples that say nothing new commit nothing else', async () => {
    const store = createMemoryStore();
    const seen: MachineChange[] = [];
    const ingest = testIngest(store, { onChange: (changes) => seen.push(...changes) });
    const { epoch } = await store.claim('files', 0);
    await ingest.accept([], { cursor: { source: 'files', partition: 0, epoch, nextOffset: 5 } });
    expect((await store.claim('files', 0)).nextOffset).toBe(5);
    await ingest.accept(minutes.slice(0, 2));
    await ingest.accept(minutes.slice(0, 2));
    expect(seen).toHaveLength(1);
  });

  it('closing finishes what was taken, takes nothing more, and does not wait for a store that is away', async () => {
    const store = createMemoryStore();
    const ingest = testIngest(store);
    const taken = [ingest.accept(minutes.slice(0, 1)), ingest.accept(minutes.slice(1, 2))];
    await ingest.close();
    expect((await Promise.allSettled(taken)).map(({ status }) => status)).toEqual(['fulfilled', 'fulfilled']);
    await expect(ingest.accept(minutes.slice(2, 3))).rejects.toMatchObject({ code: 'ingest-closed' });

    const away = createMemoryStore();
    away.beforeCommit = () => {
      throw unavailable();
    };
    const stuck = testIngest(away);
    const waiting = stuck.accept(minutes.slice(0, 1));
    const outcome = expect(waiting).rejects.toMatchObject({ code: 'store-unavailable' });
    await stuck.close();
    await outcome;
  });
});

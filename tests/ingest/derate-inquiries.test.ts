/** Derates and the inquiries into them, from reports and samples in any order to stored answers, on a real PostgreSQL. */

import { inquireMachine, startDerateInquirer } from '@warmbrick/ingest';
import { type FaultReport, machineProfileSchema, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { type DerateCase, makeDerateCase } from '@warmbrick/simulator';
import type { Store } from '@warmbrick/store';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { testIngest } from './drive.js';

let server: TestServer;
let store: Store;

beforeAll(async () => {
  server = await startTestServer();
  store = await server.openOn(await server.freshDatabase());
});
afterAll(() => server.stop());

const quiet = { info() {}, warn() {}, error() {} };

interface Piece {
  readonly blocks: readonly SampleBlock[];
  readonly reports: readonly FaultReport[];
}

/** The case as another machine, in pieces of about `minutes` samples and the reports of the same time. */
function piecesOf({ samples, reports }: DerateCase, machineId: string, minutes = 240): Piece[] {
  const pieces: Piece[] = [];
  const { timeMs } = samples;
  for (let from = 0; from < timeMs.length; from += minutes) {
    const to = Math.min(timeMs.length, from + minutes);
    const fromMs = from === 0 ? Number.NEGATIVE_INFINITY : (timeMs[from] as number);
    const toMs = to === timeMs.length ? Number.POSITIVE_INFINITY : (timeMs[to] as number);
    pieces.push({
      blocks: [{ ...sliceBlock(samples, from, to), machineId }],
      reports: reports
        .filter((report) => report.timeMs >= fromMs && report.timeMs < toMs)
        .map((report) => ({ ...report, machineId })),
    });
  }
  return pieces;
}

async function feed(one: DerateCase, machineId: string, pieces: readonly Piece[]): Promise<void> {
  const ingest = testIngest(store);
  await ingest.register(machineId, machineProfileSchema.parse(one.profile));
  for (const { blocks, reports } of pieces) await ingest.accept(blocks, { reports, isRecorded: true });
  await ingest.close();
}

async function settle(nowMs = 1): Promise<void> {
  const inquirer = startDerateInquirer({ store, logger: quiet, now: () => nowMs, everyMs: 3_600_000 });
  await inquirer.settled();
  await inquirer.stop();
}

/** Derates and newest answers, without the machine's name in them. */
async function answersOf(machineId: string) {
  const { items } = await store.listDerates({ machineId, limit: 50 });
  const told = items.map(({ derate, latest }) => ({ derate, inquiry: latest?.inquiry }));
  return JSON.parse(JSON.stringify(told).replaceAll(machineId, 'the machine')) as typeof told;
}

describe('inquiries into derates', { timeout: 240_000 }, () => {
  it('are made after the commits, and find the fault that the case was made with', async () => {
    let right = 0;
    let cases = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const one = makeDerateCase(seed);
      if (!one.truth.isOriginSent) continue;
      cases++;
      await feed(one, `case-${seed}`, piecesOf(one, `case-${seed}`));
      await settle();
      const answers = await answersOf(`case-${seed}`);
      expect(answers.length, `seed ${seed} makes a derate`).toBeGreaterThan(0);
      const atTruth = answers.filter(
        ({ derate }) => Math.abs(derate.startedMs - one.truth.derateStartedMs) < 2 * 3_600_000,
      );
      const codes = one.truth.origins.flatMap((origin) => origin.codes.map(({ spn }) => spn));
      if (atTruth.some(({ inquiry }) => codes.includes(inquiry?.origins[0]?.spn ?? -1))) right++;
    }
    expect(cases).toBeGreaterThan(8);
    // The scorecard holds the share itself on hundreds of seeds; here the way through the store must not lose it.
    expect(right / cases).toBeGreaterThanOrEqual(0.75);
  });

  it('end the same in any order of arrival, with repetitions, whenever they are made', async () => {
    const one = makeDerateCase(10);
    await feed(one, 'straight', piecesOf(one, 'straight'));
    await settle();
    const expected = await answersOf('straight');
    expect(expected.length).toBeGreaterThan(0);
    expect(expected[0]?.inquiry?.origins.length).toBeGreaterThan(0);
    let turn = 0;
    const places = piecesOf(one, 'x').map((_, at) => at);
    const arrivals = fc.tuple(fc.shuffledSubarray(places, { minLength: places.length }), fc.subarray(places));
    await fc.assert(
      fc.asyncProperty(arrivals, async ([order, repeated]) => {
        const machineId = `turned-${turn++}`;
        const pieces = piecesOf(one, machineId);
        const arriving = [...order, ...repeated].map((at) => pieces[at] as Piece);
        const half = Math.ceil(arriving.length / 2);
        await feed(one, machineId, arriving.slice(0, half));
        // An answer about half of it, which has to give way to the whole.
        await settle();
        await feed(one, machineId, arriving.slice(half));
        await settle(2);
        expect(await answersOf(machineId)).toEqual(expected);
      }),
      { numRuns: 5 },
    );
  });

  it('change when the cause comes late, and keep what was said before', async () => {
    // Its soot codes come from a controller of their own; what takes the power is told by others.
    const one = makeDerateCase(1);
    const codes = one.truth.origins.flatMap((origin) => origin.codes.map(({ spn }) => spn));
    const isCause = ({ codes: listed }: FaultReport) => listed.some(({ spn }) => codes.includes(spn));
    const addresses = new Set(one.reports.filter(isCause).map(({ sourceAddress }) => sourceAddress));
    const machineId = 'late-cause';
    const pieces = piecesOf(one, machineId);
    const without = pieces.map(({ blocks, reports }) => ({
      blocks,
      reports: reports.filter(({ sourceAddress }) => !addresses.has(sourceAddress)),
    }));
    await feed(one, machineId, without);
    await settle(1000);
    const [before] = await answersOf(machineId);
    const causeBefore = before?.inquiry?.origins.some(({ spn }) => codes.includes(spn));
    expect(before, 'a derate is seen without the codes').toBeDefined();
    expect(causeBefore).toBe(false);
    await feed(one, machineId, [{ blocks: [], reports: pieces.flatMap(({ reports }) => reports) }]);
    await settle(2000);
    const { items } = await store.listDerates({ machineId, limit: 50 });
    const changed = items.find(({ latest }) => latest?.inquiry.origins.some(({ spn }) => codes.includes(spn)));
    const history = await store.listInquiries(changed?.derate.id ?? '');
    const told = history.map(({ madeMs, changes }) => ({ madeMs, hasChanges: changes.length > 0 }));
    expect(told.at(-1)).toEqual({ madeMs: 2000, hasChanges: told.length > 1 });
    expect(codes).toContain(changed?.latest?.inquiry.origins[0]?.spn);
  });

  it('of a machine that was never derated make nothing', async () => {
    await store.commit([]);
    expect(await inquireMachine(store, { machineId: 'nobody', fromMs: 0, seq: 1 }, 1)).toBe(0);
  });
});

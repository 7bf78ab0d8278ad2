import {
  builtInThresholds,
  findingKinds,
  type ThresholdSet,
  type ThresholdValues,
  thresholdSetSchema,
} from '@warmbrick/analysis';
import { sliceBlock } from '@warmbrick/signals';
import { createBench, createTrial, type MachineTrial } from '@warmbrick/tuning';
import fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import { type SimulatedRecord, simulateFleet } from './simulated.js';

let records: SimulatedRecord[];
beforeAll(() => {
  records = simulateFleet({ machines: 4, days: 2, seed: 3 });
});

const setOf = (values: Partial<ThresholdValues>): ThresholdSet =>
  thresholdSetSchema.parse({ version: 'moved', values: { ...builtInThresholds.values, ...values } });

function trialOf(record: SimulatedRecord, set: ThresholdSet): MachineTrial {
  const trial = createTrial(record, [set]);
  for (const block of record.blocks) trial.push(block);
  return trial.results()[0] as MachineTrial;
}

/** One value for each threshold that is not its default. */
const moves = Object.entries(thresholdSetSchema.shape.values.unwrap().shape).map(([name, schema]) => {
  const { minValue, maxValue } = (schema as { unwrap(): { minValue: number; maxValue: number } }).unwrap();
  const usual = builtInThresholds.values[name as keyof ThresholdValues];
  const low = minValue + (usual - minValue) / 2;
  return { name, value: low === usual ? usual + (maxValue - usual) / 4 : low };
});

describe('the bench', () => {
  it('gives what a trial gives, whichever threshold moves and in whatever order', () => {
    const record = records[0] as SimulatedRecord;
    const bench = createBench(record, record.blocks);
    expect(bench.trial(builtInThresholds)).toEqual(trialOf(record, builtInThresholds));
    expect(bench.trial(builtInThresholds).findings.length).toBeGreaterThan(5);
    for (const { name, value } of moves) {
      const set = setOf({ [name]: value });
      expect(bench.trial(set), name).toEqual(trialOf(record, set));
    }
  });

  it('gives the same for any row of sets as a trial that starts afresh', () => {
    const rows = fc.array(fc.subarray(moves), { maxLength: 5 });
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 3 }), rows, fc.boolean(), (which, row, isSparing) => {
        const record = records[which] as SimulatedRecord;
        const bench = createBench(record, record.blocks, { isSparing });
        for (const some of row) {
          const set = setOf(Object.fromEntries(some.map(({ name, value }) => [name, value])));
          expect(bench.trial(set)).toEqual(trialOf(record, set));
        }
      }),
      { numRuns: 6 },
    );
  });

  it('runs only what a moved threshold touches', () => {
    const record = records[1] as SimulatedRecord;
    const bench = createBench(record, record.blocks);
    expect(bench.findings(builtInThresholds).ran).toContain('observer');
    expect(bench.findings(setOf({})).ran).toEqual([]);
    expect(bench.findings(setOf({ idleLimitS: 1200 })).ran).toEqual(['idle-streak']);
    expect(bench.findings(setOf({ coldLimitS: 1200 })).ran).toEqual(['cold-dwell']);
    expect(bench.findings(setOf({ idleLimitS: 1200 })).ran).toEqual([]);
    expect(bench.findings(setOf({ maxHoldS: 30 })).ran).toContain('observer');
  });

  it('gives of wanted kinds what there is of them among all, for every kind', () => {
    for (const record of records) {
      const { findings } = createBench(record, record.blocks).findings(builtInThresholds);
      for (const kind of findingKinds) {
        const some = createBench(record, record.blocks, { kinds: new Set([kind]) }).findings(builtInThresholds);
        expect(some.findings, kind).toEqual(findings.filter(({ finding }) => finding.kind === kind));
      }
    }
  });

  it('gives the same however the samples are cut into blocks', () => {
    const record = records[2] as SimulatedRecord;
    const cut = record.blocks.flatMap((block) => {
      const middle = Math.floor(block.timeMs.length / 3);
      return [sliceBlock(block, 0, middle), sliceBlock(block, middle, block.timeMs.length)];
    });
    const whole = createBench(record, record.blocks).trial(builtInThresholds);
    const again = createBench(record, cut).trial(builtInThresholds);
    expect(again.summary).toEqual(whole.summary);
    expect(
      again.findings.map(({ finding, raisedMs }) => [finding.id, finding.endedMs, finding.values, raisedMs]),
    ).toEqual(whole.findings.map(({ finding, raisedMs }) => [finding.id, finding.endedMs, finding.values, raisedMs]));
  });
});

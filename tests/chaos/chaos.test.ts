/** A short run; `npm run chaos` makes long ones. */

import { afterAll, describe, expect, it } from 'vitest';
import { findKafka, type TestKafka } from '../kafka/kafka-provider.js';
import { runChaos } from './run-chaos.js';

const found = await findKafka({ nodes: 1, needsOwn: true });
afterAll(() => found?.stop());

/** Another each day, so that more than one course of events is seen; the failure says which. */
const seed = Math.floor(Date.now() / 86_400_000);

describe.skipIf(found === null)(`members killed and frozen, broker and database restarted, seed ${seed}`, () => {
  it('change no finding, lose nothing and double nothing', async () => {
    const lines: string[] = [];
    const outcome = await runChaos({ kafka: found as TestKafka, seconds: 30, seed, say: (line) => lines.push(line) });
    console.info(JSON.stringify({ seed, ...outcome, differences: outcome.differences.length }));
    expect(outcome.kills + outcome.freezes).toBeGreaterThan(3);
    expect(outcome.brokerRestarts + outcome.databaseKills).toBeGreaterThan(0);
    expect(outcome.sent).toBeGreaterThan(10_000);
    expect(outcome.alerts).toBeGreaterThan(0);
    expect(outcome.differences).toEqual([]);
    const { missing, doubled, findingsEqual, alertsLost, alertsRepeated } = outcome;
    expect({ missing, doubled, findingsEqual, alertsLost, alertsRepeated }).toEqual({
      missing: 0,
      doubled: 0,
      findingsEqual: true,
      alertsLost: 0,
      alertsRepeated: 0,
    });
  }, 420_000);
});

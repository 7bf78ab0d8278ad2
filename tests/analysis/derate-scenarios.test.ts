/** Every file in tests/scenarios/derate is a test: what the machine did and sent, and what the inquiry has to say of it. */

import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { DerateInquiry } from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';
import { type Expected, readScenario } from './derate-scenario.js';
import { runScenario } from './run-derate-scenario.js';

const folder = fileURLToPath(new URL('../scenarios/derate/', import.meta.url));
const files = readdirSync(folder).filter((name) => name.endsWith('.yaml'));

const codeOf = ({ spn, fmi }: { spn: number; fmi: number }) => `${spn}/${fmi}`;

function check(inquiry: DerateInquiry, expected: Expected): void {
  const named = inquiry.origins.filter(({ isOrigin }) => isOrigin);
  const told = inquiry.origins.map((one) => `${codeOf(one)} ${one.likelihood}`).join(', ');
  expect(`${inquiry.verdict} ${named.map(codeOf).sort().join(' ')}`, told).toBe(
    `${expected.verdict} ${expected.origins.map(codeOf).sort().join(' ')}`,
  );
  const listed = inquiry.origins.map(codeOf);
  expect(listed).toEqual(expect.arrayContaining(expected.listed.map(codeOf)));
  for (const one of expected.notListed) expect(listed).not.toContain(codeOf(one));
  if (expected.inducementClass) expect(named[0]?.inducementClass).toBe(expected.inducementClass);
  const suspects = inquiry.suspectSensors.map(({ channel }) => channel);
  expect(suspects).toEqual(expect.arrayContaining(expected.suspectSensors));
  const text = JSON.stringify(inquiry);
  for (const words of expected.says) expect(text).toContain(words);
}

describe('derate scenarios', () => {
  it('are at least 25', () => {
    expect(files.length).toBeGreaterThanOrEqual(25);
  });

  it.each(files)('%s', (name) => {
    const scenario = readScenario(`${folder}${name}`);
    const run = runScenario(scenario);
    expect(run.derates.length).toBe(scenario.derates);
    if (scenario.level) expect(run.derates.at(-1)?.level).toBe(scenario.level);
    check(run.inquiry, scenario.expect);
    if (scenario.before) {
      const first = run.history[0];
      expect(run.history.length).toBe(2);
      check(first?.inquiry as DerateInquiry, scenario.before);
      expect(run.history[1]?.changes.length).toBeGreaterThan(0);
    }
    // Whatever it says, it never says how to get round it, and always what not to do.
    expect(run.inquiry.doNot.join(' ')).toContain('not allowed');
    expect(run.inquiry.checkFirst.length).toBeGreaterThan(0);
    const isConsequence = ({ spn }: { spn: number }) => [1569, 3644, 5246, 4094, 4095, 4096].includes(spn);
    expect(run.inquiry.origins.filter(isConsequence)).toEqual([]);
  });
});

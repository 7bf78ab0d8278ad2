/** The comparison has to notice every way in which a replay can be wrong. */

import type { ReplayDocument } from '@warmbrick/contracts';
import { describe, expect, it } from 'vitest';
import { caseFileSchema } from './case-file.js';
import { differences } from './compare-findings.js';

const at = (second: number): string => new Date(Date.UTC(2026, 2, 10, 6, 0, second)).toISOString();

function replayed(startS: number, change: object = {}): ReplayDocument {
  const finding = {
    id: 'm~hot-shutdown~1',
    machineId: 'm',
    kind: 'hot-shutdown' as const,
    startedAt: at(startS),
    endedAt: at(startS),
    severity: 'severe' as const,
    values: { cooldownS: 8, inferred: false },
    evidence: {},
    thresholdSet: 'built-in-1',
    ...change,
  };
  const machine = {
    machineId: 'm',
    residency: { runningS: 100 },
    unusable: { coolantTempC: { error: 3 } },
    findings: [finding],
  };
  return { machines: [machine], rejects: { count: 0, byReason: {}, examples: [] } } as unknown as ReplayDocument;
}

const wanted = (change: object = {}) =>
  caseFileSchema.parse({
    title: 'A stop',
    shows: ['hot-shutdown'],
    recordings: ['recording.csv'],
    machines: { m: {} },
    expected: [
      {
        machineId: 'm',
        kind: 'hot-shutdown',
        startedAt: at(10),
        endedAt: at(10),
        withinS: 2,
        severity: 'severe',
        values: { cooldownS: { about: 10, within: 3 }, inferred: false },
      },
    ],
    totals: { m: { runningS: { about: 98, within: 2 } } },
    unusable: { m: { coolantTempC: { error: 3 } } },
    ...change,
  });

describe('comparing a replay with its case', () => {
  it('is content within the tolerances, edges included', () => {
    expect(differences(wanted(), replayed(12))).toEqual([]);
  });

  it.each([
    { what: 'a finding too late', document: replayed(13), says: ['missing', 'not expected'] },
    { what: 'another kind', document: replayed(10, { kind: 'data-gap' }), says: ['missing', 'not expected'] },
    { what: 'another machine', document: replayed(10, { machineId: 'n' }), says: ['missing', 'not expected'] },
    { what: 'a finding that goes on', document: replayed(10, { endedAt: null }), says: ['missing', 'not expected'] },
    { what: 'another severity', document: replayed(10, { severity: 'notice' }), says: ['severity'] },
    {
      what: 'a number off',
      document: replayed(10, { values: { cooldownS: 6, inferred: false } }),
      says: ['cooldownS'],
    },
    { what: 'a value off', document: replayed(10, { values: { cooldownS: 9, inferred: true } }), says: ['inferred'] },
    { what: 'a value missing', document: replayed(10, { values: { inferred: false } }), says: ['cooldownS'] },
  ])('notices $what', ({ document, says }) => {
    const lines = differences(wanted(), document);
    expect(lines).toHaveLength(says.length);
    for (const [i, word] of says.entries()) expect(lines[i]).toContain(word);
  });

  it('notices a total and a count that are off', () => {
    const off = wanted({
      totals: { m: { runningS: { about: 97, within: 2 }, idleS: { about: 0, within: 5 } } },
      unusable: { m: { coolantTempC: { error: 4 } } },
    });
    const lines = differences(off, replayed(10));
    expect(lines).toHaveLength(3);
    expect(lines[0]).toContain('runningS is 100');
    expect(lines[1]).toContain('idleS is undefined');
    expect(lines[2]).toContain('3 error values');
  });

  it('lets what is ignored pass, and what must not be found never', () => {
    const pick = { kind: 'hot-shutdown', why: 'a reason' };
    expect(differences(wanted({ expected: [], ignore: [pick] }), replayed(10))).toEqual([]);
    expect(differences(wanted({ expected: [], ignore: [pick], absent: [pick] }), replayed(10))).toHaveLength(1);
  });

  it('counts one finding for one expectation only', () => {
    const one = wanted().expected[0];
    expect(differences(wanted({ expected: [one, one] }), replayed(10))).toHaveLength(1);
  });
});

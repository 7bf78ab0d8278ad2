import {
  type DerateLeaning,
  describeFault,
  type FaultDescription,
  fleetFaultTableSchema,
  knownSpns,
} from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';

describe('codes in words', () => {
  it('names a standard number and its failure mode', () => {
    // Source: SAE J1939 names as an open decoder lists them; words are the project's own.
    expect(describeFault(1761, 18)).toMatchObject({
      spnText: 'DEF tank level',
      fmiText: 'value low, moderately severe',
      inducementClass: 'level',
      isManufacturer: false,
      derates: 'usually',
    });
  });

  it('tells a value that is off from its sensor failing', () => {
    const classes = [0, 1, 2, 3, 4, 5, 15, 18].map((fmi) => describeFault(1761, fmi).inducementClass);
    expect(classes).toEqual(['level', 'level', 'tampering', 'tampering', 'tampering', 'tampering', 'level', 'level']);
  });

  it.each([
    [516_095, false],
    [516_096, true],
    [524_287, true],
  ])('%i is of the maker: %s', (spn, isManufacturer) => {
    const told = describeFault(spn, 7);
    expect(told.isManufacturer).toBe(isManufacturer);
    expect(told.isKnown).toBe(false);
    expect(told.spnText).toContain(String(spn));
    expect(told.derates).toBe('may' satisfies DerateLeaning);
  });

  it.each([
    [1569, 31, true],
    [3644, 31, true],
    [5246, 16, true],
    [5246, 0, true],
    [5246, 15, false],
    [4094, 31, false],
    [899, 31, true],
  ])('%i/%i says what is done and is never a cause; a derate: %s', (spn, fmi, isDerateCode) => {
    const told: FaultDescription = describeFault(spn, fmi);
    expect(told).toMatchObject({ isConsequence: true, isDerateCode, derates: 'never', inducementClass: null });
  });

  it("puts the fleet's own table first: for one failure mode, else for all", () => {
    const table = fleetFaultTableSchema.parse([
      { spn: 520_411, text: 'pump', inducementClass: 'dosing' },
      { spn: 520_411, fmi: 7, text: 'pump stuck', inducementClass: 'dosing' },
      { spn: 96, text: 'fuel level that stops the engine', derates: 'usually', inducementClass: 'protection' },
    ]);
    expect(describeFault(520_411, 7, table).spnText).toBe('pump stuck');
    expect(describeFault(520_411, 3, table)).toMatchObject({
      spnText: 'pump',
      inducementClass: 'dosing',
      derates: 'usually',
    });
    expect(describeFault(96, 1, table).derates).toBe('usually');
    expect(describeFault(96, 1).derates).toBe('never');
  });

  it('takes no row that is wrong', () => {
    expect(fleetFaultTableSchema.safeParse([{ spn: 600_000, text: 'x' }]).success).toBe(false);
    expect(fleetFaultTableSchema.safeParse([{ spn: 1, text: 'x', colour: 'red' }]).success).toBe(false);
  });

  it('has each number once, with words', () => {
    expect(new Set(knownSpns.map(({ spn }) => spn)).size).toBe(knownSpns.length);
    expect(knownSpns.length).toBeGreaterThan(100);
    expect(knownSpns.filter(({ text }) => text.length < 3)).toEqual([]);
  });
});

import {
  beforeSamplesMs,
  builtInSchedules,
  type FaultEpisode,
  type Finding,
  inducementClock,
  inducementFindings,
  schedulesInForce,
  unknownLamps,
} from '@warmbrick/analysis';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 2, 6);
const hourMs = 3_600_000;
const fault = (spn: number, fmi: number, fromH: number, toH: number | null = null): FaultEpisode => ({
  id: `m~fault~0.${spn}.${fmi}~${fromH}`,
  ...{ machineId: 'm', spn, fmi, conversionMethod: 0, sourceAddress: 0 },
  ...{ startedMs: startMs + fromH * hourMs, absentAtMs: null },
  ...{ endedMs: toH === null ? null : startMs + toH * hourMs, endedBy: toH === null ? null : 'list' },
  ...{ lastSeenMs: startMs + (toH ?? fromH) * hourMs, occurrences: 1, reportedCount: null },
  ...{ lamps: unknownLamps, flash: 255, isPreviouslyActiveOnly: false, origin: 'dm1' },
});
/** The engine runs all the time: hours are those of the clock on the wall. */
const engineHours = [
  { timeMs: startMs, engineHours: 1000 },
  { timeMs: startMs + 200 * hourMs, engineHours: 1200 },
];

interface At {
  readonly faults: readonly FaultEpisode[];
  readonly atH: number;
  readonly chosenId?: string;
  readonly open?: readonly Finding[];
  readonly defLevelPct?: number;
}

function found({ faults, atH, chosenId, open = [], defLevelPct }: At) {
  const atMs = startMs + atH * hourMs;
  const clocks = schedulesInForce(builtInSchedules, atMs).map((schedule) =>
    inducementClock({ schedule, faults, engineHours, atMs, defLevelPct: defLevelPct ?? null }),
  );
  return inducementFindings('m', clocks, { open, faults, chosenId: chosenId ?? null });
}

describe('the findings of the inducement clock', () => {
  it('tell the nearest step of the markets, with what clears it, from the start of the fault on', () => {
    // Dosing: 10 and 20 h. Source: Reg. (EU) 2017/654 Annex IV appendix 1, from memory.
    const { findings, withdrawnIds } = found({ faults: [fault(5394, 5, 1)], atH: 4 });
    expect(withdrawnIds).toEqual([]);
    expect(findings).toMatchObject([
      {
        kind: 'inducement-step',
        startedMs: startMs + hourMs + 2,
        endedMs: null,
        severity: 'notice',
        emittedMs: beforeSamplesMs,
        values: {
          ...{ fault: 'SPN 5394 FMI 5', schedule: 'eu-stage-v', hoursLeft: 7, level: 'low', isFinal: false },
          ...{ isReached: false, inForce: null, fromMemory: true },
          clears: expect.stringContaining('repaired'),
        },
        // An open engine manual: 2.5 h and 70 min, so this one would have been reached an hour and more ago.
        evidence: { soonestOtherSchedule: 'stepped-minutes', soonestOtherHoursLeft: 0.7 },
      },
    ]);
  });

  it('rise in severity as steps come near and are reached, and keep their name', () => {
    const at = [1, 7, 11.5, 17, 22].map((atH) => found({ faults: [fault(5394, 5, 1)], atH }).findings[0]);
    expect(new Set(at.map((finding) => finding?.id)).size).toBe(1);
    expect(at.map((finding) => [finding?.severity, finding?.values.hoursLeft])).toEqual([
      ['notice', 10],
      ['warning', 4],
      ['warning', 9.5],
      ['severe', 4],
      ['severe', 0],
    ]);
    expect(at[4]?.values).toMatchObject({ isReached: true, isFinal: true });
  });

  it('go by the schedule that the profile names, and by the others where it names one that is not in force', () => {
    const told = (chosenId: string) => found({ faults: [fault(5394, 5, 0)], atH: 1, chosenId }).findings[0]?.values;
    expect(told('stepped-minutes')).toMatchObject({ schedule: 'stepped-minutes', hoursLeft: 1.5 });
    expect(told('us-nonroad-36h')).toMatchObject({ schedule: 'us-nonroad-36h', hoursLeft: 35 });
    expect(told('us-nonroad-4h')).toMatchObject({ schedule: 'eu-stage-v' });
  });

  it('have no hours where the next step hangs on the level of the tank', () => {
    // SPN 1761 is the level of the tank. Source: SAE J1939-71, from memory.
    const [finding] = found({ faults: [fault(1761, 18, 0)], atH: 1, defLevelPct: 6 }).findings;
    expect(finding).toMatchObject({ severity: 'notice', values: { hoursLeft: null, atLevelPct: 2.5 } });
  });

  it('end with the fault, and are taken back when late reports unmake it', () => {
    const { findings: open } = found({ faults: [fault(5394, 5, 0)], atH: 1 });
    const ended = found({ faults: [fault(5394, 5, 0, 3)], atH: 5, open });
    expect(ended).toMatchObject({ findings: [{ id: open[0]?.id, endedMs: startMs + 3 * hourMs }], withdrawnIds: [] });
    const unmade = found({ faults: [], atH: 5, open });
    expect(unmade).toEqual({ findings: [], withdrawnIds: [open[0]?.id] });
  });

  it('tell two classes that begin with one list apart', () => {
    const { findings } = found({ faults: [fault(5394, 5, 0), fault(3364, 18, 0)], atH: 1 });
    expect(new Set(findings.map(({ id }) => id)).size).toBe(2);
  });

  it('are none for codes that lead nowhere', () => {
    // Low battery voltage takes no power by a schedule. Source: SPN 168 of SAE J1939-71, from memory.
    expect(found({ faults: [fault(168, 1, 0)], atH: 50 })).toEqual({ findings: [], withdrawnIds: [] });
  });

  it('never gain hours while nothing changes but time', () => {
    const early = fc.double({ min: 0, max: 19, noNaN: true });
    fc.assert(
      fc.property(early, fc.double({ min: 0, max: 60, noNaN: true }), (fromH, moreH) => {
        const sum = (atH: number) => {
          const [finding] = found({ faults: [fault(5394, 5, 0)], atH, chosenId: 'us-nonroad-36h' }).findings;
          // Once a step is reached the next one is told.
          return (finding?.values.inForce === null ? 100 : 0) + Number(finding?.values.hoursLeft);
        };
        expect(sum(fromH + moreH)).toBeLessThanOrEqual(sum(fromH));
      }),
    );
  });
});

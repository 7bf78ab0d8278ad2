import { createSimulation, habits, quarryFleet, type SimulatedMachine } from '@warmbrick/simulator';
import { describe, expect, it } from 'vitest';

const [loader] = quarryFleet as [SimulatedMachine, ...SimulatedMachine[]];
const hourMs = 3_600_000;

function runs(machine: SimulatedMachine, startMs: number, hours: number) {
  const simulation = createSimulation(machine, { seed: 6, startMs });
  simulation.advanceTo(startMs + hours * hourMs);
  return simulation.truth.filter((event) => event.kind === 'engine-run');
}

function dayMachine(timeZone: string, habit: SimulatedMachine['habit'] = 'careful'): SimulatedMachine {
  const shifts = [{ name: 'day', start: '06:00', end: '14:00' }];
  return { ...loader, habit, profile: { ...loader.profile, timeZone, shifts } };
}

describe('shifts', () => {
  it.each([
    { timeZone: 'Europe/Oslo', day: 28, firstUtc: 5 },
    // Source: EU rule, summer time begins at 01:00 UTC on the last Sunday of March: 29 March 2026.
    { timeZone: 'Europe/Oslo', day: 29, firstUtc: 4 },
    { timeZone: 'Atlantic/Reykjavik', day: 29, firstUtc: 6 },
  ])('begin by the local clock at $timeZone on $day March 2026', ({ timeZone, day, firstUtc }) => {
    const [first] = runs(dayMachine(timeZone), Date.UTC(2026, 2, day, 2), 16);
    const afterShiftStartS = ((first?.startedMs as number) - Date.UTC(2026, 2, day, firstUtc)) / 1000;
    expect(afterShiftStartS).toBeGreaterThan(0);
    expect(afterShiftStartS).toBeLessThan(800);
  });

  it.each(habits)('end with the machine parked in time, for the habit %s', (habit) => {
    const startMs = Date.UTC(2026, 2, 10, 3);
    const all = runs(dayMachine('UTC', habit), startMs, 72);
    const days = new Set(all.map((run) => Math.floor(run.startedMs / (24 * hourMs))));
    expect(days.size).toBe(3);
    for (const run of all) {
      const hour = (run.endedMs / hourMs) % 24;
      expect(hour).toBeGreaterThan(6);
      expect(hour).toBeLessThan(13.8);
    }
  });

  it('find a machine at work when the simulation starts in the middle of one', () => {
    const startMs = Date.UTC(2026, 2, 10, 9);
    const block = createSimulation(dayMachine('UTC'), { seed: 6, startMs }).advanceTo(startMs + 60_000);
    expect(block?.channels.engineSpeedRpm?.[0]).toBeGreaterThan(900);
    expect(block?.channels.coolantTempC?.[0]).toBeGreaterThan(60);
  });
});

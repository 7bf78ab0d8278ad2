import { machineProfileSchema } from '@warmbrick/signals';
import { createSimulation, variedFleet } from '@warmbrick/simulator';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 0, 11, 23);

describe('a varied fleet', () => {
  it('is the same for the same plan, and a larger one begins with the smaller', () => {
    const plan = { machines: 20, days: 3, seed: 4 };
    expect(variedFleet(plan)).toEqual(variedFleet(plan));
    expect(variedFleet({ ...plan, machines: 30 }).slice(0, 20)).toEqual(variedFleet(plan));
    expect(variedFleet({ ...plan, seed: 5 })).not.toEqual(variedFleet(plan));
  });

  it('has valid profiles, names of its own and some of everything', () => {
    const fleet = variedFleet({ machines: 400, days: 3, seed: 1 });
    expect(new Set(fleet.map(({ machineId }) => machineId)).size).toBe(400);
    for (const { profile } of fleet) expect(machineProfileSchema.safeParse(profile).success).toBe(true);
    expect(new Set(fleet.map(({ habit }) => habit)).size).toBe(5);
    const options = fleet.map(({ aftertreatment }) => aftertreatment ?? {});
    for (const key of [
      'batches',
      'drops',
      'doserFault',
      'scrWearRatio',
      'inhibited',
      'heaterFault',
      'dustFactor',
    ] as const) {
      expect(
        options.some((one) => one[key] !== undefined),
        key,
      ).toBe(true);
    }
    const kinds = new Set(fleet.flatMap(({ sensorFaults }) => (sensorFaults ?? []).map(({ kind }) => kind)));
    expect([...kinds].sort()).toEqual(['drift', 'missing', 'stuck', 'swapped']);
  });

  it('takes the habit it is told, and goes without mishaps when told so', () => {
    const fleet = variedFleet({ machines: 30, days: 3, seed: 1, habit: 'careful', hasMishaps: false });
    expect(fleet.every(({ habit }) => habit === 'careful')).toBe(true);
    expect(fleet.every(({ sensorFaults }) => sensorFaults === undefined)).toBe(true);
  });

  it('runs: each machine gives the same whatever its neighbours', () => {
    const [first] = variedFleet({ machines: 1, days: 1, seed: 9 });
    if (first === undefined) throw new Error('no machine');
    const life = () => createSimulation(first, { seed: 9, startMs }).advanceTo(startMs + 10 * 3_600_000);
    expect(life()).toEqual(life());
  });
});

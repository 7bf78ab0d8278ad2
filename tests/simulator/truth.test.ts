import type { SampleBlock } from '@warmbrick/signals';
import {
  createSimulation,
  type DutySegment,
  quarryFleet,
  type SimulatedMachine,
  type TruthEvent,
} from '@warmbrick/simulator';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 10, 5);
const [loader] = quarryFleet as [SimulatedMachine, ...SimulatedMachine[]];

type Kind<K extends TruthEvent['kind']> = Extract<TruthEvent, { kind: K }>;

function live(schedule: readonly DutySegment[]) {
  const simulation = createSimulation({ ...loader, schedule }, { seed: 11, startMs });
  const seconds = schedule.reduce((sum, segment) => sum + segment.durationS, 0);
  const block = simulation.advanceTo(startMs + seconds * 1000) as SampleBlock;
  const of = <K extends TruthEvent['kind']>(kind: K) =>
    simulation.truth.filter((event): event is Kind<K> => event.kind === kind);
  return { block, of };
}

describe('truth labels', () => {
  it('measure a run from the first second at 400 rpm to the first below it', () => {
    const { of } = live([
      { kind: 'start', durationS: 400, preheatS: 10 },
      { kind: 'work', durationS: 1200 },
      { kind: 'cool-down', durationS: 320 },
      { kind: 'off', durationS: 300 },
    ]);
    const [run] = of('engine-run');
    expect(of('engine-run')).toHaveLength(1);
    // Preheating 10 s, cranking 3 s, then the governor takes a second or two.
    expect((run?.startedMs as number) - startMs).toBeGreaterThanOrEqual(13_000);
    expect((run?.startedMs as number) - startMs).toBeLessThanOrEqual(16_000);
    expect((run?.endedMs as number) - startMs).toBeGreaterThanOrEqual(1_920_000);
    expect((run?.endedMs as number) - startMs).toBeLessThanOrEqual(1_923_000);
    expect(of('stop')[0]).toMatchObject({ grade: 'cool' });
    expect(Math.abs((of('stop')[0]?.coolDownS as number) - 320)).toBeLessThanOrEqual(6);
  });

  it('let an idle streak outlast a blip under 30 s and end it with work', () => {
    const { of } = live([
      { kind: 'start', durationS: 120 },
      { kind: 'work', durationS: 900 },
      { kind: 'idle', durationS: 1500 },
      { kind: 'light', durationS: 20, loadPct: 35 },
      { kind: 'idle', durationS: 2500 },
      { kind: 'work', durationS: 45 },
      { kind: 'idle', durationS: 600 },
      { kind: 'off', durationS: 300 },
    ]);
    const [warmUp, long, last] = of('idle-streak');
    expect(of('idle-streak')).toHaveLength(3);
    expect(warmUp?.isOverLimit).toBe(false);
    expect(Math.abs((long?.durationS as number) - 4020)).toBeLessThanOrEqual(6);
    expect(long?.isOverLimit).toBe(true);
    expect(Math.abs((last?.durationS as number) - 600)).toBeLessThanOrEqual(6);
  });

  it.each([
    { coolDownS: 8, grade: 'severe' },
    { coolDownS: 80, grade: 'short' },
    { coolDownS: 360, grade: 'cool' },
  ])('grade a stop after $coolDownS s of cool-down as $grade', ({ coolDownS, grade }) => {
    const { of } = live([
      { kind: 'start', durationS: 600 },
      { kind: 'work', durationS: 2400, loadPct: 85 },
      { kind: 'cool-down', durationS: coolDownS },
      { kind: 'off', durationS: 300 },
    ]);
    expect(of('stop').map((stop) => stop.grade)).toEqual([grade]);
  });

  it('report load on a cold engine, and none on a warm one', () => {
    const { of } = live([
      { kind: 'start', durationS: 40 },
      { kind: 'work', durationS: 3600, loadPct: 75 },
      { kind: 'cool-down', durationS: 310 },
      { kind: 'off', durationS: 900 },
      { kind: 'start', durationS: 40 },
      { kind: 'work', durationS: 900, loadPct: 75 },
      { kind: 'off', durationS: 300 },
    ]);
    expect(of('early-load')).toHaveLength(1);
    expect(of('early-load')[0]?.afterStartS).toBeLessThan(60);
    expect(of('early-load')[0]?.coolantAtStartC).toBeLessThan(50);
  });

  it('agree with the counters and the samples of a whole working day, for each habit', () => {
    for (const machine of quarryFleet) {
      const simulation = createSimulation(
        {
          ...machine,
          channels: ['engineSpeedRpm', 'engineLoadPct', 'engineHours', 'idleHours'],
          gateway: { awakeAfterKeyOffS: 1e6 },
          sensorFaults: [],
        },
        { seed: 2, startMs: startMs - 4 * 3_600_000 },
      );
      const block = simulation.advanceTo(startMs + 16 * 3_600_000) as SampleBlock;
      const { engineSpeedRpm, engineHours, timeMs } = { ...block.channels, timeMs: block.timeMs };
      const runningS = [...(engineSpeedRpm ?? [])].filter((rpm) => rpm >= 400).length;
      const countedS = ((engineHours?.at(-1) as number) - (engineHours?.[0] as number)) * 3600;
      expect(Math.abs(runningS - countedS)).toBeLessThanOrEqual(181);
      const inside = simulation.truth.filter((event) => event.startedMs >= (timeMs[0] as number));
      for (const event of inside) {
        if (event.kind !== 'engine-run') continue;
        const at = timeMs.indexOf(event.startedMs);
        expect(engineSpeedRpm?.[at]).toBeGreaterThanOrEqual(400);
        expect(engineSpeedRpm?.[at - 1] ?? 0).toBeLessThan(400);
        expect(engineSpeedRpm?.[timeMs.indexOf(event.endedMs)]).toBeLessThan(400);
      }
      expect(inside.some((event) => event.kind === 'engine-run')).toBe(true);
    }
  });

  it('show what each habit is known for, within two days', () => {
    const seen = (machineId: string) => {
      const machine = quarryFleet.find((one) => one.machineId === machineId) as SimulatedMachine;
      const simulation = createSimulation(machine, { seed: 4, startMs });
      simulation.advanceTo(startMs + 48 * 3_600_000);
      return {
        longIdles: simulation.truth.filter((event) => event.kind === 'idle-streak' && event.isOverLimit).length,
        hotStops: simulation.truth.filter((event) => event.kind === 'stop' && event.grade !== 'cool').length,
        earlyLoads: simulation.truth.filter((event) => event.kind === 'early-load').length,
      };
    };
    expect(seen('loader-01')).toEqual({ longIdles: 0, hotStops: 0, earlyLoads: 0 });
    expect(seen('loader-02').longIdles).toBeGreaterThan(0);
    expect(seen('hauler-01').hotStops).toBeGreaterThan(0);
    expect(seen('excavator-02').earlyLoads).toBeGreaterThan(0);
  });
});

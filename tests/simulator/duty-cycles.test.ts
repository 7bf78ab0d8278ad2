import type { SampleBlock } from '@warmbrick/signals';
import {
  createSimulation,
  type DutyCycleName,
  dutyCycle,
  quarryFleet,
  type SimulatedMachine,
} from '@warmbrick/simulator';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 10, 5);
const [loader] = quarryFleet as [SimulatedMachine, ...SimulatedMachine[]];
const speeds = { idleRpm: 950, intermediateRpm: 1300, maxTestRpm: 1900 };

const lengthS = (name: DutyCycleName) => dutyCycle(name).reduce((sum, piece) => sum + piece.durationS, 0);

describe('prescribed duty cycles', () => {
  it('last as long as the regulation says', () => {
    // Source: 40 CFR part 1039 Appendix II: the ramped-modal cycles add up to 1800 s and 1200 s.
    expect(lengthS('ramped-c1')).toBe(1800);
    expect(lengthS('ramped-d2')).toBe(1200);
  });

  it.each([
    // Weights of the steady modes. Source: 40 CFR part 1039 Appendix II (discrete modes, C1); ramps spread them by a few percent.
    { speedRpm: 1900, torqueRatio: 1, weight: 0.15 },
    { speedRpm: 1900, torqueRatio: 0.75, weight: 0.15 },
    { speedRpm: 1900, torqueRatio: 0.5, weight: 0.15 },
    { speedRpm: 1900, torqueRatio: 0.1, weight: 0.1 },
    { speedRpm: 1300, torqueRatio: 1, weight: 0.1 },
    { speedRpm: 950, torqueRatio: 0, weight: 0.15 },
  ])('C1 is at $speedRpm rpm and $torqueRatio of the torque for $weight of the time', (mode) => {
    const steady = dutyCycle('ramped-c1', speeds).filter(({ speedRpm, torqueRatio }) => {
      const isSteady = speedRpm[0] === speedRpm[1] && torqueRatio[0] === torqueRatio[1];
      return isSteady && speedRpm[0] === mode.speedRpm && torqueRatio[0] === mode.torqueRatio;
    });
    const seconds = steady.reduce((sum, piece) => sum + piece.durationS, 0);
    expect(Math.abs(seconds / 1800 - mode.weight)).toBeLessThan(0.02);
  });

  it('have no jump between their pieces', () => {
    for (const name of ['ramped-c1', 'ramped-d2', 'transient'] as const) {
      const pieces = dutyCycle(name);
      for (let i = 1; i < pieces.length; i++) {
        expect(pieces[i]?.speedRpm[0]).toBe(pieces[i - 1]?.speedRpm[1]);
        expect(pieces[i]?.torqueRatio[0]).toBe(pieces[i - 1]?.torqueRatio[1]);
      }
    }
  });

  it('are followed by the engine', () => {
    const schedule = [{ kind: 'start', durationS: 600 } as const, ...dutyCycle('ramped-c1', speeds)];
    const simulation = createSimulation({ ...loader, schedule }, { seed: 1, startMs });
    const block = simulation.advanceTo(startMs + 2_400_000) as SampleBlock;
    // The fifth mode: 246 s at full torque and maximum test speed from second 667 of the cycle on.
    const at = 600 + 667 + 100;
    expect(block.channels.engineSpeedRpm?.[at]).toBeCloseTo(1900, -1);
    expect(block.channels.engineLoadPct?.[at]).toBeGreaterThan(97);
    // Source: domain notes 5.2, 394-454 degC at full torque and 1600 to 2000 rpm.
    expect(block.channels.turbineOutTempC?.[at + 100]).toBeGreaterThan(380);
    expect(block.channels.turbineOutTempC?.[at + 100]).toBeLessThan(470);
  });
});

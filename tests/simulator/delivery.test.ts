import type { SampleBlock } from '@warmbrick/signals';
import { createSimulation, deliver, quarryFleet, type SimulatedMachine } from '@warmbrick/simulator';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 10, 7);
const [loader] = quarryFleet as [SimulatedMachine, ...SimulatedMachine[]];
const block = createSimulation(loader, { seed: 1, startMs }).advanceTo(startMs + 7_200_000) as SampleBlock;
const faults = {
  latencyS: 600,
  duplicateRatio: 0.3,
  outages: [{ fromMs: startMs + 1_800_000, toMs: startMs + 5_400_000 }],
};

describe('delivery', () => {
  it('loses nothing, repeats some packets and brings them out of order', () => {
    const packets = deliver(block, faults, 9);
    const times = packets.flatMap((packet) => [...packet.block.timeMs]);
    expect(new Set(times).size).toBe(block.timeMs.length);
    expect(times.length).toBeGreaterThan(block.timeMs.length);
    expect(times.some((timeMs, i) => i > 0 && timeMs < (times[i - 1] as number))).toBe(true);
  });

  it('holds back what was sampled in an outage until it ends', () => {
    for (const packet of deliver(block, faults, 9)) {
      const lastMs = packet.block.timeMs.at(-1) as number;
      expect(packet.arrivesMs).toBeGreaterThanOrEqual(lastMs);
      const inOutage = lastMs >= startMs + 1_800_000 && lastMs < startMs + 5_400_000;
      if (inOutage) expect(packet.arrivesMs).toBeGreaterThanOrEqual(startMs + 5_400_000);
    }
  });

  it('gives whole packets in order when nothing is wrong', () => {
    const packets = deliver(block, {}, 9);
    expect(packets.flatMap((packet) => [...packet.block.timeMs])).toEqual([...block.timeMs]);
  });
});

describe('a clock that goes wrong', () => {
  const startMs = Date.UTC(2026, 2, 10, 5);
  const block = {
    machineId: 'loader-01',
    timeMs: Float64Array.from({ length: 7200 }, (_, i) => startMs + i * 1000),
    channels: { engineSpeedRpm: new Float32Array(7200).fill(950) },
  };

  it('gains until it is set, then its times overlap', () => {
    const clock = { gainMsPerS: 10, fromMs: startMs, setAtMs: [startMs + 3_600_000] };
    const packets = deliver(block, { clock }, 1);
    const times = packets.flatMap((packet) => [...packet.block.timeMs]);
    expect(times).toHaveLength(7200);
    expect(times[3599]).toBe(startMs + 3_599_000 + 35_990);
    expect(times[3600]).toBe(startMs + 3_600_000);
    for (const packet of packets) {
      for (let i = 1; i < packet.block.timeMs.length; i++) {
        expect(packet.block.timeMs[i]).toBeGreaterThan(packet.block.timeMs[i - 1] as number);
      }
    }
  });

  it('leaves everything as it is before it goes wrong', () => {
    const clock = { gainMsPerS: -20, fromMs: startMs + 7_200_000 };
    expect(deliver(block, { clock }, 1)).toEqual(deliver(block, {}, 1));
  });
});

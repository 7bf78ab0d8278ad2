/** Decides which seconds of a machine are sent, and collects them. */

import type { TimedSegment } from './duty.js';
import { createFaultOverlay, isLost } from './gateway.js';
import type { MachineBody } from './machine-body.js';
import { readerOf, type SimulatedChannel } from './readings.js';
import { createCollector } from './sample-collector.js';
import type { SimulatedMachine } from './simulated-machine.js';
import type { TruthEvent } from './truth.js';

/** How long a gateway goes on after key-off when nothing else is said, s. Source: engineering judgement. */
const defaultAwakeS = 120;

/** The sending side of a machine's gateway; notes the gaps it makes in the truth. */
export function createSender(machine: SimulatedMachine, to: { seed: number; startMs: number; truth: TruthEvent[] }) {
  const gateway = machine.gateway ?? {};
  const periodMs = Math.max(1, Math.round(gateway.samplePeriodS ?? 1)) * 1000;
  const awakeMs = (gateway.awakeAfterKeyOffS ?? defaultAwakeS) * 1000;
  const overlay = createFaultOverlay(machine.sensorFaults ?? [], to.seed);
  const sink = createCollector(machine.machineId, machine.channels);
  const values = machine.channels.map(() => Number.NaN);
  const readers = machine.channels.map((name) => readerOf[name]);
  let lastSentMs = Number.NaN;
  let hasLost = false;
  let keyOffMs = Number.NaN;
  return {
    /** Whether the gateway passed anything on. */
    see(timeMs: number, timed: TimedSegment, body: MachineBody): boolean {
      const isKeyOff = timed.segment.kind === 'off';
      if (!isKeyOff) keyOffMs = Number.NaN;
      else if (keyOffMs !== keyOffMs) keyOffMs = timed.startMs;
      if (timeMs % periodMs !== 0 || timeMs - keyOffMs >= awakeMs) return false;
      const sinceStartS = (timeMs - to.startMs) / 1000;
      if (isLost(gateway, sinceStartS)) {
        hasLost = true;
        return false;
      }
      if (hasLost && lastSentMs === lastSentMs) {
        const isOn = !isKeyOff && body.readings.engineSpeedRpm > 0;
        const durationS = (timeMs - lastSentMs) / 1000;
        to.truth.push({ kind: 'gap', startedMs: lastSentMs, endedMs: timeMs, durationS, isRunning: isOn });
      }
      hasLost = false;
      lastSentMs = timeMs;
      for (let c = 0; c < machine.channels.length; c++) {
        values[c] = overlay.isEmpty
          ? (readers[c] as (typeof readers)[number])(body.readings)
          : overlay.read(machine.channels[c] as SimulatedChannel, body.readings, sinceStartS);
      }
      sink.add(timeMs, values);
      return true;
    },
    take: () => sink.take(),
  };
}

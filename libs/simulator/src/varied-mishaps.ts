/** What goes wrong with machines of a varied fleet: each puts one thing on top of a machine. */

import type { AftertreatmentOptions } from './aftertreatment/options.js';
import type { SensorFault } from './gateway.js';
import type { Random } from './random.js';
import type { SimulatedChannel } from './readings.js';
import type { SimulatedMachine } from './simulated-machine.js';

type Change = (machine: SimulatedMachine, random: Random, days: number) => SimulatedMachine;

const dayS = 86_400;
const neverS = 1e9;
/** Things begin within this share of the days, so that there is time to see them. Source: design decision. */
const beginRatio = 0.6;
/** DEF of 24 % urea, as thinned with water. Source: invented. */
const thinned = { batchId: 'thinned', ureaRatio: 0.24 } as const;

function changed(machine: SimulatedMachine, options: AftertreatmentOptions): SimulatedMachine {
  return { ...machine, aftertreatment: { ...machine.aftertreatment, ...options } };
}

function sensor(machine: SimulatedMachine, fault: SensorFault): SimulatedMachine {
  return { ...machine, sensorFaults: [...(machine.sensorFaults ?? []), fault] };
}

function beginS(random: Random, days: number): number {
  return Math.round(random.between(0.05, beginRatio) * days * dayS);
}

function oneOf(random: Random, channels: readonly SimulatedChannel[]): SimulatedChannel {
  return channels[Math.floor(random.next() * channels.length)] as SimulatedChannel;
}

const sensors: readonly SimulatedChannel[] = ['scrInletTempC', 'exhaustTempC', 'coolantTempC', 'turbineOutTempC'];

export const mishaps = {
  'thinned-batch': (machine) => changed(machine, { batches: [thinned], inducementHours: [6, 12] }),
  'def-theft': (machine, random, days) => {
    const litres = Math.round(random.between(8, 16));
    return changed(machine, { drops: [{ atS: beginS(random, days), litres, overS: 300 }] });
  },
  'never-filled': (machine) => changed({ ...machine, defLevelPct: 45 }, { fillBelowPct: 0 }),
  'late-filled': (machine) => changed(machine, { fillBelowPct: 8 }),
  'dead-doser': (machine, random, days) => {
    return changed(machine, { doserFault: { fromS: beginS(random, days), toS: neverS }, inducementHours: [6, 12] });
  },
  'worn-catalyst': (machine, random) => changed(machine, { scrWearRatio: random.between(0.6, 1) }),
  'sticking-urea': (machine, random) => {
    return changed(
      { ...machine, habit: 'light-duty' },
      { depositFactor: random.between(4, 10), inducementHours: [6, 12] },
    );
  },
  'inhibited-regeneration': (machine, random, days) => {
    const fromS = beginS(random, days);
    const inhibited = [{ fromS, toS: fromS + Math.round(random.between(0.3, 1) * days * dayS) }];
    return changed({ ...machine, habit: 'light-duty', sootPct: 85 }, { inhibited, sootFactor: 1.6 });
  },
  'sooty-engine': (machine, random) => changed(machine, { sootFactor: random.between(1.8, 3) }),
  'dusty-work': (machine, random) => changed(machine, { airFilterUsedRatio: random.between(0.9, 1), dustFactor: 4 }),
  'dead-heater': (machine) => {
    const climate = { meanTempC: -18, swingC: 3, daySpreadC: 2 };
    return changed({ ...machine, climate }, { heaterFault: { fromS: -neverS, toS: neverS }, inducementHours: [6, 12] });
  },
  'stuck-sensor': (machine, random, days) => {
    return sensor(machine, { channel: oneOf(random, sensors), kind: 'stuck', fromS: beginS(random, days) });
  },
  'drifting-sensor': (machine, random, days) => {
    const fromS = beginS(random, days);
    return sensor(machine, { channel: oneOf(random, sensors), kind: 'drift', fromS, perHour: random.between(4, 9) });
  },
  'swapped-sensors': (machine) => {
    return sensor(machine, { channel: 'scrInletTempC', kind: 'swapped', with: 'scrOutletTempC' });
  },
  'missing-sensor': (machine, random) => sensor(machine, { channel: oneOf(random, sensors), kind: 'missing' }),
  'lost-coverage': (machine, random, days) => {
    const fromS = beginS(random, days);
    const lostStretches = [{ fromS, toS: fromS + Math.round(random.between(600, 4 * 3600)) }];
    return { ...machine, gateway: { ...machine.gateway, lostStretches } };
  },
} as const satisfies Record<string, Change>;

export type Mishap = keyof typeof mishaps;

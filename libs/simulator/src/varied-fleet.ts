/** A fleet of any size, made from a seed: machines of all classes and habits, and with what goes wrong on real ones. */

import type { CatalystFamily, MachineProfileInput } from '@warmbrick/signals';
import type { Climate } from './climate.js';
import { type Habit, habits } from './habits.js';
import { createRandom, type Random, seedFrom } from './random.js';
import { type SimulatedChannel, simulatedChannels } from './readings.js';
import type { SimulatedMachine } from './simulated-machine.js';
import { type Mishap, mishaps } from './varied-mishaps.js';

export interface FleetPlan {
  readonly machines: number;
  /** How long it is going to be simulated: what goes wrong begins within that. */
  readonly days: number;
  readonly seed: number;
  /** The habit of all operators; default: drawn for each machine. */
  readonly habit?: Habit;
  /** Whether anything goes wrong with machines, sensors and gateways. Default true. */
  readonly hasMishaps?: boolean;
}

interface MachineClass {
  readonly name: string;
  readonly machineClass: string;
  readonly displacementL: number;
  readonly ratedPowerKW: number;
}

const classes: readonly MachineClass[] = [
  { name: 'loader', machineClass: 'wheel loader', displacementL: 11, ratedPowerKW: 250 },
  { name: 'hauler', machineClass: 'haul truck', displacementL: 13, ratedPowerKW: 320 },
  { name: 'excavator', machineClass: 'excavator', displacementL: 9.3, ratedPowerKW: 210 },
  { name: 'handler', machineClass: 'telehandler', displacementL: 4.5, ratedPowerKW: 95 },
  { name: 'forwarder', machineClass: 'forwarder', displacementL: 6.7, ratedPowerKW: 150 },
];

const shiftPlans: readonly NonNullable<MachineProfileInput['shifts']>[] = [
  [{ name: 'day', start: '06:00', end: '16:00' }],
  [
    { name: 'early', start: '05:30', end: '14:00' },
    { name: 'late', start: '14:00', end: '23:00' },
  ],
  [{ name: 'day', start: '07:00', end: '18:00' }],
];

const climates: readonly Climate[] = [
  { meanTempC: 1, swingC: 4, daySpreadC: 2 },
  { meanTempC: 14, swingC: 7, daySpreadC: 3 },
  { meanTempC: -16, swingC: 3, daySpreadC: 2 },
];

const families: readonly CatalystFamily[] = ['copper-zeolite', 'copper-zeolite', 'vanadia', 'iron-zeolite'];

/** What a gateway without the aftertreatment's own signals sends. */
const fewChannels: readonly SimulatedChannel[] = [
  'engineSpeedRpm',
  'engineLoadPct',
  'exhaustTempC',
  'turbineOutTempC',
  'coolantTempC',
  'ambientTempC',
  'fuelRateLPerH',
  'defLevelPct',
  'engineHours',
];

/** Shares of the machines. Source: design decision. */
const fewChannelsRatio = 0.2;
const diesWithKeyRatio = 0.2;
const coarseRatio = 0.2;
const mishapRatio = 0.6;
const secondMishapRatio = 0.25;
/** A tank holds this much for each litre of displacement. Source: engineering judgement. */
const tankLPerL = 4.5;
/** Deposit that the maker is said to allow, g for each litre of displacement: the usual limit of 30 g belongs to 6.7 L. */
const depositLimitGPerL = 30 / 6.7;

/**
 * The machines of an invented fleet at Skarnfell quarry.
 *
 * Range: the same plan gives the same fleet; a machine hangs on its number, the seed and the days alone, so a larger
 * fleet begins with the smaller one. Every machine has a whole aftertreatment.
 */
export function variedFleet(plan: FleetPlan): SimulatedMachine[] {
  return Array.from({ length: plan.machines }, (_, i) => machineOf(i + 1, plan));
}

function machineOf(number: number, plan: FleetPlan): SimulatedMachine {
  const random = createRandom(seedFrom(plan.seed, 'fleet', number));
  const kind = pick(random, classes);
  const { displacementL, ratedPowerKW, machineClass } = kind;
  const habit = plan.habit ?? pick(random, habits);
  const label = String(number).padStart(4, '0');
  const sound: SimulatedMachine = {
    machineId: `${kind.name}-${label}`,
    habit,
    channels: random.next() < fewChannelsRatio ? fewChannels : simulatedChannels,
    climate: pick(random, climates),
    gateway: {
      samplePeriodS: random.next() < coarseRatio ? 5 : 1,
      awakeAfterKeyOffS: random.next() < diesWithKeyRatio ? 0 : 120,
    },
    engineHours: Math.round(random.between(500, 9000)),
    idleHours: Math.round(random.between(100, 400)),
    defLevelPct: Math.round(random.between(35, 90)),
    sootPct: Math.round(random.between(15, 85)),
    profile: {
      site: 'Skarnfell quarry',
      timeZone: 'Europe/Oslo',
      name: `${machineClass} ${number}`,
      machineClass,
      displacementL,
      ratedPowerKW,
      particulateFilterL: Math.round(displacementL * 1.5),
      defTankL: Math.round(displacementL * tankLPerL),
      catalystFamily: pick(random, families),
      depositLimitG: Math.round(displacementL * depositLimitGPerL),
      shifts: pick(random, shiftPlans),
    },
    aftertreatment: { ashPct: Math.round(random.between(5, 70)), airFilterUsedRatio: random.between(0.05, 0.6) },
  };
  return plan.hasMishaps === false ? sound : withMishaps(sound, random, plan.days);
}

function withMishaps(sound: SimulatedMachine, random: Random, days: number): SimulatedMachine {
  const count = random.next() < mishapRatio ? (random.next() < secondMishapRatio ? 2 : 1) : 0;
  const names = Object.keys(mishaps) as Mishap[];
  let machine = sound;
  for (let i = 0; i < count; i++) machine = mishaps[pick(random, names)](machine, random, days);
  return machine;
}

function pick<T>(random: Random, from: readonly T[]): T {
  return from[Math.min(from.length - 1, Math.floor(random.next() * from.length))] as T;
}

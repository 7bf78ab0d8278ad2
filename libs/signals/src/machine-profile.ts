/** What is fixed about one machine: engine, catalyst, tanks, calendar. Limits that are tuned live in threshold sets. */

import { z } from 'zod';
import { serviceIntervalSchema, usualServiceIntervals } from './service-intervals.js';
import { setting } from './setting.js';

const memory = 'from memory; ask the manufacturer';
const practice = 'common practice';
const judgement = 'engineering judgement';

/** Families of SCR catalyst; the temperature window hangs on them. */
export const catalystFamilies = ['unspecified', 'vanadia', 'iron-zeolite', 'copper-zeolite'] as const;
export type CatalystFamily = (typeof catalystFamilies)[number];

/** Kinds of engine by the soot that they make before any filter. */
export const sootLevels = ['tier-3', 'tier-4-interim', 'tier-4-egr-filter', 'stage-5-scr-only'] as const;
export type SootLevel = (typeof sootLevels)[number];

export interface CatalystWindow {
  readonly lowC: number;
  readonly highC: number;
}

/**
 * Temperature window of each catalyst family in degC.
 * Source: common practice (350-450 C); copper zeolite converts over 90 % from 250 C, from memory.
 */
export const windowByFamily: Readonly<Record<CatalystFamily, CatalystWindow>> = {
  unspecified: { lowC: 350, highC: 450 },
  vanadia: { lowC: 350, highC: 450 },
  'iron-zeolite': { lowC: 350, highC: 450 },
  'copper-zeolite': { lowC: 250, highC: 450 },
};

const clockTime = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'expected a time of day such as "06:00"');

const shiftSchema = z.strictObject({
  name: z.string().min(1).max(40),
  start: clockTime,
  /** An end before the start means the next day. */
  end: clockTime,
});

const windowSchema = z
  .strictObject({ lowC: z.number().min(100).max(700), highC: z.number().min(150).max(900) })
  .refine((window) => window.lowC < window.highC, { message: 'lowC must be below highC', path: ['lowC'] });

const timeZoneSchema = z
  .string()
  .max(64)
  .refine(isTimeZone, { message: 'not a time zone of the IANA database, such as "Europe/Oslo"' });

/** The profile as written in a file; every field has a default. */
export const machineProfileSchema = z.strictObject({
  name: z.string().min(1).max(80).optional(),
  machineClass: z.string().min(1).max(40).default('machine'),
  site: z.string().min(1).max(80).optional(),
  /** Id of the fleet that it belongs to; who may see the fleet sees the machine. Missing: it stays where it is. */
  fleet: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'expected small letters, digits and hyphens')
    .optional(),
  timeZone: timeZoneSchema.default('UTC'),
  shifts: z
    .array(shiftSchema)
    .max(6)
    .default([{ name: 'day', start: '06:00', end: '18:00' }]),
  catalystFamily: z.enum(catalystFamilies).default('unspecified'),
  window: windowSchema.optional(),
  dosingReleaseTempC: setting(200, {
    unit: 'degC',
    min: 100,
    max: 400,
    source: 'release thresholds 180-220 C, from memory',
  }),
  baseIdleRpm: setting(950, { unit: 'rpm', min: 400, max: 1500, source: practice }),
  idleBandRpm: setting(150, { unit: 'rpm', min: 10, max: 600, source: judgement }),
  runningRpm: setting(400, { unit: 'rpm', min: 100, max: 600, source: judgement }),
  noLoadPct: setting(25, { unit: '%', min: 1, max: 80, source: judgement }),
  workingLoadPct: setting(40, { unit: '%', min: 5, max: 95, source: judgement }),
  displacementL: setting(6.7, { unit: 'L', min: 0.5, max: 100, source: judgement }),
  ratedPowerKW: setting(150, { unit: 'kW', min: 10, max: 5000, source: judgement }),
  fuelTankL: setting(300, { unit: 'L', min: 10, max: 20_000, source: judgement }),
  defTankL: setting(30, { unit: 'L', min: 1, max: 2000, source: judgement }),
  hasParticulateFilter: z.boolean().default(true),
  particulateFilterL: setting(10, { unit: 'L', min: 1, max: 200, source: memory }),
  sootLimitGPerL: setting(4, { unit: 'g/L', min: 0.5, max: 15, source: 'filters trigger at 3-5 g/L, from memory' }),
  sootLevel: z.enum(sootLevels).default('tier-4-egr-filter'),
  depositLimitG: setting(30, { unit: 'g', min: 1, max: 1000, source: judgement }),
  defToFuelRatio: setting(0.05, {
    unit: 'L/L',
    min: 0,
    max: 0.15,
    source: '2-7 % by concept, domain notes section 1.3',
  }),
  fuelPricePerL: setting(1.2, { unit: 'currency/L', min: 0, max: 100, source: 'worked example of the domain notes' }),
  hourCost: setting(15, { unit: 'currency/h', min: 0, max: 10_000, source: 'worked example of the domain notes' }),
  /** What comes due by hours or calendar. */
  serviceIntervals: z
    .array(serviceIntervalSchema)
    .max(40)
    .default([...usualServiceIntervals]),
  /** Id of the inducement schedule that the machine was built to. Missing: the nearest step of those of the markets is told. */
  inducementSchedule: z
    .string()
    .regex(/^[a-z0-9-]{1,60}$/, 'expected small letters, digits and hyphens, such as "eu-stage-v"')
    .optional(),
  /** Per-machine overrides of threshold names; checked by the threshold set. */
  limits: z.record(z.string(), z.number()).default({}),
});

export type MachineProfileInput = z.input<typeof machineProfileSchema>;
export type MachineProfile = z.output<typeof machineProfileSchema>;

/** The profile of a machine nobody has described. */
export const defaultProfile: MachineProfile = machineProfileSchema.parse({});

/** The temperature window that the machine is judged by: its own, else that of its catalyst family. */
export function profileWindow(profile: MachineProfile): CatalystWindow {
  return profile.window ?? windowByFamily[profile.catalystFamily];
}

function isTimeZone(name: string): boolean {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: name }).resolvedOptions().timeZone.length > 0;
  } catch {
    return false;
  }
}

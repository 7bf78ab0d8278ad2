/** Inducement schedules that come with the program. */

import { type InducementSchedule, inducementScheduleSchema } from './inducement-schedule.js';

const rightDef = 'DEF of the right quality in the tank and the fault gone, as the controller itself confirms';
const repaired = 'the fault repaired, as the controller itself confirms';
const filled = 'the tank filled above the warning level';

const hours = (
  afterH: number,
  level: 'warning' | 'low' | 'severe',
  text: string,
  more: { torqueCutRatio?: number; isIdleOnly?: boolean; fromMemory?: boolean } = {},
) => ({ afterH, level, text, ...more });
const tank = (
  atLevelPct: number,
  level: 'warning' | 'low' | 'severe',
  text: string,
  more: { torqueCutRatio?: number; fromMemory?: boolean } = {},
) => ({ afterH: null, atLevelPct, level, text, ...more });

const euTank = [
  tank(10, 'warning', 'warning'),
  tank(2.5, 'low', 'a quarter of the torque is taken', { torqueCutRatio: 0.25 }),
  tank(0, 'severe', 'half of the torque is taken and the speed held down', { torqueCutRatio: 0.5 }),
];
const euHours = (lowH: number, severeH: number) => [
  hours(0, 'warning', 'warning'),
  hours(lowH, 'low', 'a quarter of the torque is taken', { torqueCutRatio: 0.25 }),
  hours(severeH, 'severe', 'half of the torque is taken and the speed held down', { torqueCutRatio: 0.5 }),
];
const usTank = [
  { ...tank(10, 'warning', 'warning'), fromMemory: true },
  { ...tank(2.5, 'low', 'a quarter of the torque is taken', { torqueCutRatio: 0.25 }), fromMemory: true },
  { ...tank(0, 'severe', 'final inducement'), fromMemory: true },
];

/**
 * Built-in schedules.
 * Source: project's domain notes on exhaust physics, section 7; those marked `fromMemory` were not read in their source. The code
 * of federal regulations (40 CFR 1039.110) holds no hours for machines off the road: they are guidance.
 */
export const builtInSchedules: readonly InducementSchedule[] = [
  {
    id: 'eu-stage-v',
    title: 'EU Stage V',
    region: 'EU',
    validFrom: '2019-01-01',
    validTo: null,
    source: 'Reg. (EU) 2017/654 Annex IV appendix 1, from memory; the text was not read',
    fromMemory: true,
    paths: [
      { classes: ['level'], steps: euTank, clears: filled },
      { classes: ['quality'], steps: euHours(10, 20), clears: rightDef },
      { classes: ['dosing'], steps: euHours(10, 20), clears: repaired },
      { classes: ['egr', 'tampering'], steps: euHours(36, 100), clears: repaired },
    ],
  },
  {
    id: 'us-nonroad-4h',
    title: 'USA off-road, idle after four hours',
    region: 'US',
    validFrom: null,
    validTo: '2025-08-11',
    source: 'trade press of August 2025 and an open tractor manual: four hours after the alert to idle only',
    fromMemory: false,
    paths: [
      { classes: ['level'], steps: usTank, clears: filled },
      {
        classes: ['quality', 'dosing', 'tampering'],
        steps: [hours(0, 'warning', 'warning'), hours(4, 'severe', 'the engine is held at idle', { isIdleOnly: true })],
        clears: repaired,
      },
    ],
  },
  {
    id: 'us-nonroad-36h',
    title: 'USA off-road, guidance of 12 August 2025',
    region: 'US',
    validFrom: '2025-08-12',
    validTo: null,
    source:
      'trade press on the guidance of 12 August 2025: 36 h without effect, then a quarter of the torque; 100 h from memory',
    fromMemory: false,
    paths: [
      { classes: ['level'], steps: usTank, clears: filled },
      {
        classes: ['quality', 'dosing', 'tampering'],
        steps: [
          hours(0, 'warning', 'warning'),
          hours(36, 'low', 'a quarter of the torque is taken', { torqueCutRatio: 0.25 }),
          hours(100, 'severe', 'half of the torque is taken', { torqueCutRatio: 0.5, fromMemory: true }),
        ],
        clears: repaired,
      },
    ],
  },
  {
    id: 'stepped-minutes',
    title: 'One combined scheme for both markets, in short steps',
    region: 'EU and US',
    validFrom: null,
    validTo: null,
    source: 'an open engine manual: 2.5 h, then 70 min, then held until healed; again within 40 h: 5 min and 5 min',
    fromMemory: false,
    paths: [
      { classes: ['level'], steps: usTank, clears: filled },
      {
        classes: ['quality', 'dosing', 'tampering'],
        steps: [
          hours(0, 'warning', 'first level: warning'),
          hours(2.5, 'low', 'second level: torque is taken'),
          hours(2.5 + 70 / 60, 'severe', 'final level: idle only or stop', { isIdleOnly: true }),
        ],
        repeat: {
          withinH: 40,
          steps: [
            hours(0, 'warning', 'warning'),
            hours(5 / 60, 'low', 'second level: torque is taken'),
            hours(10 / 60, 'severe', 'final level: idle only or stop', { isIdleOnly: true }),
          ],
        },
        clears: repaired,
      },
      {
        classes: ['egr'],
        steps: [
          hours(0, 'warning', 'first level: warning'),
          hours(35, 'low', 'second level: torque is taken'),
          hours(36, 'severe', 'final level: idle only or stop', { isIdleOnly: true }),
        ],
        repeat: {
          withinH: 40,
          steps: [
            hours(0, 'warning', 'warning'),
            hours(48 / 60, 'low', 'second level: torque is taken'),
            hours(108 / 60, 'severe', 'final level: idle only or stop', { isIdleOnly: true }),
          ],
        },
        clears: repaired,
      },
    ],
  },
].map((schedule) => inducementScheduleSchema.parse(schedule));

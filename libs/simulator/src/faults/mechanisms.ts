/** What can begin a derate, how it is reported, how long it takes and what it brings with it. */

import type { CaseCode, CaseMechanism } from './derate-case.js';

interface Consequence extends CaseCode {
  /** Share of the cases in which it comes, and after how many engine hours at least and at most. */
  readonly ratio: number;
  readonly afterH: readonly [least: number, most: number];
}

/** By what the time to the derate goes. */
type Pace =
  | { readonly by: 'schedule'; readonly steps: 'quality' | 'monitoring' }
  | { readonly by: 'tank' }
  | { readonly by: 'chance'; readonly leastH: number; readonly mostH: number };

export interface MechanismPlan {
  readonly mechanism: CaseMechanism;
  readonly weight: number;
  /** One of these is what it is first reported as, and what that may rise to. */
  readonly reportedAs: readonly (readonly [CaseCode, ...CaseCode[]])[];
  readonly pace: Pace;
  readonly consequences: readonly Consequence[];
  /** Broadcast as an inducement. */
  readonly isInducement: boolean;
}

const code = (spn: number, fmi: number): CaseCode => ({ spn, fmi });
const each = (spn: number, ...fmis: number[]): [CaseCode][] => fmis.map((fmi) => [code(spn, fmi)]);
const then = (spn: number, fmi: number, ratio: number, afterH: readonly [number, number]): Consequence => ({
  spn,
  fmi,
  ratio,
  afterH,
});

const byQuality: Pace = { by: 'schedule', steps: 'quality' };
const byMonitoring: Pace = { by: 'schedule', steps: 'monitoring' };
const soon: Pace = { by: 'chance', leastH: 0.01, mostH: 0.7 };

/**
 * The plans. Weights, shares and times are design decisions, drawn wide; numbers are those of SAE J1939 as the domain notes name
 * them, and which failure mode a maker picks is engineering judgement.
 */
export const mechanismPlans: readonly MechanismPlan[] = [
  {
    mechanism: 'empty-tank',
    weight: 14,
    reportedAs: [
      [code(1761, 17), code(1761, 18), code(1761, 1)],
      [code(1761, 18), code(1761, 1)],
      [code(1761, 17), code(1761, 1)],
    ],
    pace: { by: 'tank' },
    consequences: [
      then(4096, 31, 0.3, [1, 6]),
      then(4334, 18, 0.2, [2, 8]),
      then(5392, 31, 0.15, [2, 8]),
      then(4364, 18, 0.15, [2, 9]),
    ],
    isInducement: true,
  },
  {
    mechanism: 'bad-quality',
    weight: 10,
    reportedAs: [...each(3364, 18, 2, 11, 1), ...each(3516, 18, 1, 17), [code(3516, 17), code(3516, 18)]],
    pace: byQuality,
    consequences: [then(4364, 18, 0.5, [0.3, 6]), then(3226, 16, 0.25, [0.5, 8]), then(4094, 31, 0.3, [0.2, 8])],
    isInducement: true,
  },
  {
    mechanism: 'wrong-fluid',
    weight: 4,
    reportedAs: [...each(3521, 31, 11, 14), ...each(3364, 11)],
    pace: byQuality,
    consequences: [then(4334, 18, 0.4, [0.5, 5]), then(4364, 18, 0.5, [0.5, 6]), then(4094, 31, 0.2, [0.2, 8])],
    isInducement: true,
  },
  {
    mechanism: 'dosing-part',
    weight: 16,
    reportedAs: [
      ...each(5394, 5, 7, 3, 4),
      ...each(5435, 7, 5, 31),
      ...each(4375, 5, 4),
      ...each(4376, 7, 3),
      ...each(4374, 8, 18),
      ...each(3361, 11, 7),
      ...each(3362, 31, 7),
      ...each(4334, 18, 1, 16),
      ...each(5392, 31),
      ...each(4331, 18),
    ],
    pace: byQuality,
    consequences: [
      then(4334, 18, 0.35, [0.05, 2]),
      then(4364, 18, 0.55, [0.3, 6]),
      then(3226, 16, 0.3, [0.3, 8]),
      then(4095, 31, 0.3, [0.1, 6]),
      then(5392, 31, 0.12, [0.1, 4]),
    ],
    isInducement: true,
  },
  {
    mechanism: 'frozen',
    weight: 6,
    reportedAs: [
      ...each(3363, 5, 3, 4),
      ...each(4354, 5, 3),
      ...each(5745, 5),
      ...each(5491, 3, 5),
      ...each(3031, 1, 18),
    ],
    pace: byQuality,
    consequences: [then(3031, 1, 0.5, [0.2, 2]), then(4334, 18, 0.4, [0.3, 3]), then(4364, 18, 0.25, [0.5, 6])],
    isInducement: true,
  },
  {
    mechanism: 'nox-sensor',
    weight: 8,
    reportedAs: [...each(3226, 4, 3, 9, 12, 2), ...each(3216, 4, 9, 12)],
    pace: byMonitoring,
    consequences: [then(4364, 18, 0.3, [0.3, 6])],
    isInducement: true,
  },
  {
    mechanism: 'level-sensor',
    weight: 6,
    reportedAs: each(1761, 4, 3, 5),
    pace: byMonitoring,
    consequences: [],
    isInducement: true,
  },
  {
    mechanism: 'quality-sensor',
    weight: 5,
    reportedAs: [...each(3364, 9, 4, 12), ...each(3516, 4, 9)],
    pace: byMonitoring,
    consequences: [],
    isInducement: true,
  },
  {
    mechanism: 'egr',
    weight: 5,
    reportedAs: [...each(2791, 7, 5), ...each(27, 3, 7), ...each(2659, 18, 2), ...each(411, 4)],
    pace: byMonitoring,
    consequences: [then(2659, 18, 0.3, [0.1, 3]), then(412, 16, 0.1, [0.2, 4]), then(102, 18, 0.1, [0.2, 5])],
    isInducement: true,
  },
  {
    mechanism: 'soot',
    weight: 7,
    reportedAs: [
      [code(3719, 15), code(3719, 16), code(3719, 0)],
      [code(3719, 16), code(3719, 0)],
      ...each(3251, 0, 16),
      ...each(3936, 7, 31),
    ],
    pace: { by: 'chance', leastH: 0.3, mostH: 16 },
    consequences: [then(3251, 16, 0.3, [0.3, 6]), then(102, 18, 0.1, [0.5, 6]), then(3711, 31, 0.2, [0.2, 4])],
    isInducement: false,
  },
  {
    mechanism: 'hot-or-dry',
    weight: 9,
    reportedAs: [
      [code(110, 15), code(110, 16), code(110, 0)],
      ...each(110, 0, 16),
      ...each(111, 1, 18),
      ...each(175, 0, 16),
      ...each(100, 1, 18),
      ...each(105, 0, 16),
    ],
    pace: soon,
    consequences: [then(110, 0, 0.15, [0.02, 0.4]), then(175, 16, 0.15, [0.05, 0.5])],
    isInducement: false,
  },
  {
    mechanism: 'air-or-fuel',
    weight: 8,
    reportedAs: [
      ...each(107, 0, 16),
      ...each(102, 18, 1),
      ...each(641, 7, 12),
      ...each(103, 0),
      ...each(157, 18, 1),
      ...each(94, 1, 18),
      ...each(97, 31, 16),
    ],
    pace: soon,
    consequences: [then(102, 18, 0.3, [0.02, 0.4]), then(157, 18, 0.2, [0.02, 0.4]), then(173, 16, 0.1, [0.05, 0.5])],
    isInducement: false,
  },
  {
    mechanism: 'supply',
    weight: 4,
    reportedAs: [...each(168, 1, 18), ...each(158, 18), ...each(627, 4, 12), ...each(620, 4, 3), ...each(639, 9, 2)],
    pace: soon,
    consequences: [],
    isInducement: false,
  },
  {
    mechanism: 'worn-catalyst',
    weight: 4,
    reportedAs: [...each(4364, 18, 1), ...each(3226, 16, 0)],
    pace: byMonitoring,
    consequences: [then(3226, 16, 0.3, [0.3, 8]), then(4364, 18, 0.3, [0.3, 8])],
    isInducement: true,
  },
  {
    mechanism: 'maker-code',
    weight: 4,
    reportedAs: [
      ...each(516_480, 31, 7),
      ...each(518_113, 14),
      ...each(520_213, 5),
      ...each(521_049, 11),
      ...each(523_602, 2),
    ],
    pace: { by: 'chance', leastH: 0.01, mostH: 12 },
    consequences: [],
    isInducement: false,
  },
];

/** Engine hours to the step that takes power, by family. Source: domain notes on exhaust physics, 7; `own` is drawn. */
export const familySteps = {
  eu: { quality: 10, monitoring: 36 },
  'us-4h': { quality: 4, monitoring: 4 },
  'us-36h': { quality: 36, monitoring: 36 },
  short: { quality: 2.5, monitoring: 2.5 },
} as const;

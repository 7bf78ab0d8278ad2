/** What has built up in the invented machines. Figures by kind of machine, spread over its machines; nothing was measured. */

import type { MachineDetail } from '@warmbrick/contracts';
import { type DemoMachine, spread } from './demo-machines.js';

type Load = NonNullable<MachineDetail['load']>;

const demoSootLimitG = 40;
const demoDepositLimitG = 30;
const workTempC = 400;
const cleanRatio = 0.3;

/** Machines by what has built up in them. */
export const demoCases = {
  measured: 'sk-001',
  below: 'sk-002',
  modelled: 'sk-003',
  clean: 'sk-004',
  over: 'sk-005',
  unfiltered: 'sk-006',
} as const;

interface KindLoad {
  /** Shares of the limits around which the machines of a kind lie; null without a filter. */
  readonly sootRatio: number | null;
  readonly depositRatio: number;
  readonly isMeasured: boolean;
  /** Hours of running that would fill an empty filter; null when the duty keeps it from filling. */
  readonly hoursToFill: number | null;
}

const byClass: Readonly<Record<string, KindLoad>> = {
  'wheel loader': { sootRatio: 0.55, depositRatio: 0.2, isMeasured: true, hoursToFill: 90 },
  'articulated hauler': { sootRatio: 0.4, depositRatio: 0.16, isMeasured: true, hoursToFill: null },
  excavator: { sootRatio: 0.6, depositRatio: 0.4, isMeasured: false, hoursToFill: 75 },
  'drill rig': { sootRatio: 0.15, depositRatio: 0.06, isMeasured: true, hoursToFill: null },
  'generator set': { sootRatio: 1.05, depositRatio: 0.85, isMeasured: false, hoursToFill: 34 },
  'yard sweeper': { sootRatio: null, depositRatio: 0.55, isMeasured: false, hoursToFill: null },
};

/** Whether a machine has a particulate filter. */
export function hasDemoFilter({ machineClass }: Pick<DemoMachine, 'machineClass'>): boolean {
  return byClass[machineClass]?.sootRatio !== null;
}

/** The outlook of a machine, or null when it was never seen running. */
export function demoLoad({ machineId, machineClass, confidence }: DemoMachine): Load | null {
  const kind = byClass[machineClass];
  if (confidence === null || kind === undefined) return null;
  const next = spread(Number(machineId.slice(-3)) + 400);
  const factor = 0.7 + 0.6 * next();
  const sootRatio = kind.sootRatio === null ? null : to(kind.sootRatio * factor, 3);
  const depositRatio = to(kind.depositRatio * (0.7 + 0.6 * next()), 3);
  return {
    sootG: sootRatio === null ? null : to(sootRatio * demoSootLimitG, 1),
    sootLimitG: sootRatio === null ? null : demoSootLimitG,
    sootRatio,
    isMeasured: kind.isMeasured,
    sootDoubtRatio: sootRatio === null ? null : kind.isMeasured ? 0.06 : 0.19,
    depositG: to(depositRatio * demoDepositLimitG, 1),
    depositLimitG: demoDepositLimitG,
    depositRatio,
    isDepositMeasured: kind.isMeasured,
    workTempC,
    minutesUntilClean: minutesUntilClean(Math.max(sootRatio ?? 0, depositRatio)),
    ...wayToLimit(sootRatio, kind.hoursToFill),
  };
}

function minutesUntilClean(ratio: number): number | null {
  if (ratio <= cleanRatio) return 0;
  return ratio > 1.1 ? null : Math.ceil(Math.log(ratio / cleanRatio) * 58);
}

function wayToLimit(sootRatio: number | null, hoursToFill: number | null): Pick<Load, 'hoursToLimit' | 'wayToLimit'> {
  if (sootRatio === null) return { hoursToLimit: null, wayToLimit: 'no-filter' };
  if (sootRatio >= 1) return { hoursToLimit: 0, wayToLimit: 'reached' };
  if (hoursToFill === null) return { hoursToLimit: null, wayToLimit: 'never' };
  return { hoursToLimit: to((1 - sootRatio) * hoursToFill, 1), wayToLimit: 'ahead' };
}

function to(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}

/** A fault code in plain words, and what it can lead to. */

import { fmiTexts } from '@warmbrick/j1939';
import { z } from 'zod';
import { type InducementClass, inducementClasses } from './inducement-class.js';
import { type DerateLeaning, derateLeanings, type KnownSpn, knownSpnByNumber } from './known-spns.js';

/** Parameter numbers that belong to makers. Source: SAE J1939-71 ranges, from memory. */
export const manufacturerSpns = { from: 516_096, to: 524_287 };
const allFmis = 32;
/** Failure modes of the value itself: high and low in their three severities, and a condition. Source: SAE J1939-73. */
const valueFmis: readonly number[] = [0, 1, 15, 16, 17, 18, 31];
/** The mildest: a warning, not yet a cause. Source: order of severity in SAE J1939-73. */
const mildFmis: readonly number[] = [15, 17];

const fleetFaultSchema = z.strictObject({
  spn: z.number().int().min(0).max(524_287),
  /** null stands for every failure mode of the number. */
  fmi: z
    .number()
    .int()
    .min(0)
    .max(allFmis - 1)
    .nullable()
    .default(null),
  text: z.string().min(1).max(120),
  inducementClass: z.enum(inducementClasses).nullable().default(null),
  /** The code says that power is reduced, and not why. */
  isDerateCode: z.boolean().default(false),
  derates: z.enum(derateLeanings).optional(),
  /** What to look at first, in the fleet's own words. */
  checkFirst: z.string().min(1).max(200).optional(),
});

/** Codes of a fleet's own machines, as a user adds them; what it says goes before the built-in table. */
export const fleetFaultTableSchema = z.array(fleetFaultSchema).max(5000);
export type FleetFaultTable = z.output<typeof fleetFaultTableSchema>;
export type FleetFault = FleetFaultTable[number];

export interface FaultDescription {
  readonly spnText: string;
  readonly fmiText: string;
  readonly isManufacturer: boolean;
  /** Class of derate that it leads to if it lasts; null when it leads to none that we know of. */
  readonly inducementClass: InducementClass | null;
  /** It says that power is taken or an inducement runs: never a cause. */
  readonly isConsequence: boolean;
  /** It says so of a derate that is in force, not of a warning. */
  readonly isDerateCode: boolean;
  /** What a consequence says it is about; null when it doesn't. */
  readonly saidClass: InducementClass | null;
  readonly derates: DerateLeaning;
  /** Only a first warning of its kind. */
  readonly isMild: boolean;
  /** Whether the failure mode is of the value and not of a sensor, circuit or part. */
  readonly isOfValue: boolean;
  /** Whether we have words for the number at all. */
  readonly isKnown: boolean;
  readonly known: KnownSpn | null;
  readonly fleetFault: FleetFault | null;
}

/**
 * Describes a code.
 *
 * Missing: an unknown number is named by number, and may lead to a derate; so may every one of a maker.
 */
export function describeFault(spn: number, fmi: number, fleetTable: FleetFaultTable = []): FaultDescription {
  const fleetFault =
    fleetTable.find((row) => row.spn === spn && row.fmi === fmi) ??
    fleetTable.find((row) => row.spn === spn && row.fmi === null) ??
    null;
  const known = knownSpnByNumber.get(spn) ?? null;
  const isOfValue = valueFmis.includes(fmi);
  const isManufacturer = spn >= manufacturerSpns.from && spn <= manufacturerSpns.to;
  const isConsequence = fleetFault?.isDerateCode ?? (known !== null && known.role !== 'fault');
  const knownClass = known === null ? null : isOfValue ? known.valueClass : known.circuitClass;
  return {
    spnText: fleetFault?.text ?? known?.text ?? unknownText(spn, isManufacturer),
    fmiText: fmiTexts[fmi] ?? 'not a failure mode',
    isManufacturer,
    inducementClass: isConsequence ? null : fleetFault === null ? knownClass : fleetFault.inducementClass,
    isConsequence,
    isDerateCode: fleetFault?.isDerateCode ?? (known !== null && isDerate(known, fmi)),
    saidClass: known?.saidClass ?? null,
    derates: isConsequence ? 'never' : leaning({ fleetFault, known, isOfValue }),
    isMild: mildFmis.includes(fmi),
    isOfValue,
    isKnown: fleetFault !== null || known !== null,
    known,
    fleetFault,
  };
}

/** Severities 1 and 2 of the inducement are sent as FMI 15: warnings. Source: domain notes on exhaust physics, 7.3. */
function isDerate(known: KnownSpn, fmi: number): boolean {
  if (known.role === 'derate') return true;
  return known.role === 'inducement' && !mildFmis.includes(fmi) && known.saidClass === null;
}

function leaning(of: { fleetFault: FleetFault | null; known: KnownSpn | null; isOfValue: boolean }): DerateLeaning {
  const { fleetFault, known, isOfValue } = of;
  if (fleetFault?.derates !== undefined) return fleetFault.derates;
  if (fleetFault !== null && fleetFault.inducementClass !== null) return 'usually';
  if (known === null) return 'may';
  return isOfValue ? known.value : known.circuit;
}

function unknownText(spn: number, isManufacturer: boolean): string {
  return isManufacturer ? `the maker's own number ${spn}` : `parameter ${spn}`;
}

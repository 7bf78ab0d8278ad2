/** Puts a handover sheet together. */

import { type HandoverDocument, toClockDocument, toInstant } from '@warmbrick/contracts';
import { groupCodes, handoverCodes } from './handover-codes.js';
import { handoverDerates, mostDerates } from './handover-derates.js';
import type { HandoverInput, ReadWindow } from './handover-input.js';
import { handoverWork, sumOfRows } from './handover-work.js';
import { inShort } from './in-short.js';
import { maskedDeep, masker } from './mask-texts.js';

/** Source: common practice; see also the notes of the design on caution. */
const handoverCautions = [
  'Hot exhaust burns and can start fires: park and secure the machine, let it cool, and clear what can burn before any work on it.',
  "The manufacturer's manual and the local rules come first; the diagnosis of a dealer or a licensed technician stands over this sheet.",
  'DEF harms some metals and is no fuel additive: keep fuel, oil and water out of its tank.',
  'An emissions control may not be defeated or removed.',
] as const;

/**
 * The sheet as a document.
 *
 * With a mask label nothing in it tells which machine it is: id, name and site are left out, in texts the label stands for
 * them, notes that people typed are dropped, and times are in UTC. Codes and derates have numbers of the sheet's own.
 * Errors: those of `read`.
 */
export async function buildHandover(input: HandoverInput, read: ReadWindow): Promise<HandoverDocument> {
  const { profile, period, maskLabel, observed } = input;
  const isMasked = maskLabel !== null;
  const timeZone = isMasked ? 'UTC' : profile.timeZone;
  const groups = groupCodes(input.faults, period);
  const told = {
    period: { from: toInstant(period.fromMs), to: toInstant(period.toMs) },
    timeZone,
    hours: {
      engineHoursFrom: input.engineHours.from,
      engineHoursTo: input.engineHours.to,
      residency: sumOfRows(input.rows),
      observed:
        observed === null
          ? null
          : { from: toInstant(observed.fromMs), to: toInstant(observed.toMs), coverageRatio: observed.coverageRatio },
    },
    codes: await handoverCodes(input, groups, read),
    derates: await handoverDerates(input, groups, read),
    ...handoverWork(input.findings, timeZone),
  };
  const document: HandoverDocument = {
    form: 'handover-sheet-1',
    madeAt: toInstant(input.madeAtMs),
    software: input.software,
    thresholdSet: input.thresholdSet,
    isMasked,
    machine: machineOf(input),
    inShort: inShort(told),
    ...told,
    clocks: input.clocks.map(toClockDocument).filter(({ lines }) => lines.length > 0),
    service:
      input.service === null
        ? null
        : input.service.map((done) => (isMasked ? { ...done, by: null, note: null } : { ...done })),
    limits: limitsOf(input),
    cautions: [...handoverCautions],
  };
  return isMasked ? masked(document, input, maskLabel) : document;
}

function machineOf({ machineId, profile, maskLabel }: HandoverInput): HandoverDocument['machine'] {
  const { name = null, site = null, machineClass, displacementL, ratedPowerKW, catalystFamily } = profile;
  const { hasParticulateFilter, defTankL } = profile;
  const technical = { machineClass, displacementL, ratedPowerKW, catalystFamily, hasParticulateFilter, defTankL };
  return maskLabel === null
    ? { label: name ?? machineId, machineId, name, site, ...technical }
    : { label: maskLabel, machineId: null, name: null, site: null, ...technical };
}

function limitsOf({ derates, service, faults, limits = [], observed, period }: HandoverInput): string[] {
  const found = [...limits];
  if (derates.length > mostDerates)
    found.push(`Only the newest ${mostDerates} of ${derates.length} derates are shown.`);
  if (service === null) found.push('No record of service work was at hand.');
  if (faults.some(({ isPreviouslyActiveOnly }) => isPreviouslyActiveOnly)) {
    found.push('Some codes were only told as previously active: when they were active is not known.');
  }
  if (observed === null) found.push('No signals of the machine were recorded, only codes.');
  else if (observed.fromMs > period.fromMs + dayMs || observed.toMs < period.toMs - dayMs) {
    found.push('The machine was not seen during all of the period.');
  }
  return found;
}

const dayMs = 86_400_000;

function masked(document: HandoverDocument, { machineId, profile }: HandoverInput, label: string): HandoverDocument {
  const { name = null, site = null, machineClass } = profile;
  return maskedDeep(document, masker({ machineId, name, site, machineClass }, label));
}

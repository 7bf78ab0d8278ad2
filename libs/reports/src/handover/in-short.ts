/** What a sheet says on top, in sentences that somebody who was not there can follow. */

import type { HandoverCode, HandoverDerate, HandoverDocument } from '@warmbrick/contracts';
import { lengthText, timeOf } from './sheet-clock.js';

type Told = Pick<
  HandoverDocument,
  'period' | 'timeZone' | 'codes' | 'derates' | 'runs' | 'hours' | 'defFills' | 'defFindings' | 'regenerations'
>;

/** The sentences, the most important first. */
export function inShort(told: Told): string[] {
  return [
    derateSentence(told),
    ...told.derates.slice(-3).flatMap((derate) => originSentences(derate, told)),
    codeSentence(told.codes),
    workSentence(told),
    defSentence(told),
  ];
}

function derateSentence({ derates }: Told): string {
  if (derates.length === 0) return 'No loss of power was seen in this period.';
  const lostH = derates.reduce((sum, { lostH }) => sum + (lostH ?? 0), 0);
  const times = derates.length === 1 ? 'once' : derates.length === 2 ? 'twice' : `${derates.length} times`;
  const isOpen = derates.some(({ endedAt }) => endedAt === null);
  const lost = lostH > 0 ? `, which took about ${lostH.toFixed(1)} hours of full work` : '';
  return `The machine lost power ${times}${lost}.${isOpen ? ' It is still reduced at the end of the period.' : ''}`;
}

function originSentences({ number, startedAt, inquiry }: HandoverDerate, { timeZone }: Told): string[] {
  const when = `Derate ${number} of ${timeOf(Date.parse(startedAt), timeZone)}`;
  if (inquiry === null) return [`${when}: not inquired into yet.`];
  const found = inquiry.origins.filter(({ isOrigin }) => isOrigin);
  if (inquiry.verdict === 'unknown' || found.length === 0)
    return [`${when}: its origin is not known. ${inquiry.summary}`];
  const names = found.map((origin) => {
    const started = timeOf(Date.parse(origin.startedAt), timeZone);
    return `SPN ${origin.spn} FMI ${origin.fmi}${origin.code === null ? '' : ` (${origin.code})`}, ${origin.spnWords}: ${origin.fmiWords}, active from ${started}`;
  });
  const sure = `confidence ${Math.round(inquiry.confidence * 100)} %`;
  const which = found.length === 1 ? 'its likeliest origin is' : 'its likeliest origins are';
  return [`${when}: ${which} ${names.join('; and ')} (${sure}).`];
}

function codeSentence(codes: readonly HandoverCode[]): string {
  if (codes.length === 0) return 'No fault code is known of the machine.';
  const inPeriod = codes.filter(({ occurrencesInPeriod }) => occurrencesInPeriod > 0).length;
  const active = codes.filter(({ isActive }) => isActive).length;
  const known = codes.length === 1 ? '1 fault code is known' : `${codes.length} fault codes are known`;
  return `${known} of the machine, ${inPeriod} of them from this period; ${active} ${active === 1 ? 'is' : 'are'} still active.`;
}

function workSentence({ runs, hours }: Told): string {
  const running = hours.residency === null ? '' : ` and ran ${lengthText(hours.residency.runningS)}`;
  const covered =
    hours.observed === null
      ? ''
      : ` (${Math.round(hours.observed.coverageRatio * 100)} % of the time is covered by data)`;
  return runs.count === 0 && running === ''
    ? 'It was not seen running.'
    : `It was started ${runs.count} ${runs.count === 1 ? 'time' : 'times'}${running}${covered}.`;
}

function defSentence({ defFills, defFindings, regenerations }: Told): string {
  const regens = counted(regenerations.length, 'active regeneration').replace('No', 'no');
  const wrong =
    defFindings.length === 0
      ? 'nothing wrong with the DEF was found'
      : `${counted(defFindings.length, 'finding')} about DEF`;
  return `${counted(defFills.length, 'DEF fill')}, ${regens}; ${wrong}.`;
}

function counted(count: number, what: string): string {
  return `${count === 0 ? 'No' : count} ${what}${count === 1 ? '' : 's'}`;
}

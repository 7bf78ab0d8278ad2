/** What to check first, and what not to do. */

import type { InquiryVerdict, OriginCandidate } from './derate-inquiry.js';
import type { InducementClass } from './inducement-class.js';
import type { Judgement } from './judge-origins.js';
import type { ScoredTrouble } from './score-troubles.js';

/** Source: common practice and engineering judgement; a manufacturer's manual stands above it. */
const firstChecks: Readonly<Record<InducementClass, string>> = {
  level:
    'Look into the DEF tank: how full it is, against what the display says. Fill with fresh DEF to ISO 22241 if it is low.',
  quality:
    'Take a sample from the DEF tank and measure it with a refractometer; look at it for diesel, water and dirt, and ask what was filled last and from which batch.',
  dosing:
    'Look at DEF lines, filter and connectors for crystals, leaks and kinks, with the engine cold; frozen DEF needs thawing first.',
  tampering:
    'Check connector, wiring and fuse of the sensor that the code names, for corrosion, rubbing and loose pins.',
  egr: 'Have the EGR valve and its wiring checked for sticking and soot.',
  soot: 'Ask when the last regeneration ran through, and why others did not; look at the soot load before anything else.',
  protection:
    'Check the level and temperature that the code names: coolant, oil, air filter restriction and charge air hoses, with the engine cold.',
  other: 'Check connector, wiring and fuse of the part that the code names, then battery, alternator and grounds.',
};
const makerCheck = "Look up the code in the manual of the machine: the number is the maker's own.";
const sensorCheck = 'Compare the sensor with the real thing before believing it: it may be what fails.';
const everyCode = 'Give the dealer every code that occurred, with its times, not only the active ones.';

const alwaysNot = [
  "Do not try to get round the derate or to switch off or change any part of the emissions control: it is not allowed, and the fault stays. The manufacturer's manual comes first; a dealer's or licensed technician's diagnosis stands over this one.",
  'Do not touch exhaust, turbocharger or catalyst while they are hot: park and secure the machine and let it cool.',
  'Do not clear the codes before they have been written down.',
];
const defNot =
  'Do not put anything but DEF to ISO 22241 into the DEF tank and never DEF into the fuel; DEF attacks some metals: rinse spills with water, keep it off skin and eyes.';
const dieselNot =
  'Do not run the engine if diesel may be in the DEF tank: the tank and lines have to be drained and cleaned by a technician.';
const sootNot = 'Do not start a regeneration on dry ground, indoors or near anything that burns.';
const heatNot = 'Do not open the cooling system while it is hot.';

/** In the order in which to do it; at most six. */
export function checkFirst(listed: readonly ScoredTrouble[], judgement: Judgement): string[] {
  const named = judgement.origins.length > 0 ? judgement.origins : listed.slice(0, 3);
  const checks = named.flatMap(({ trouble, suspects }) => {
    const { fleetFault, inducementClass, isKnown, spnText } = trouble.description;
    const own = fleetFault?.checkFirst ?? (isKnown ? firstChecks[inducementClass ?? 'other'] : makerCheck);
    const lead = `${capital(spnText)} (${trouble.anchor.spn}/${trouble.anchor.fmi}): ${own}`;
    return suspects.length > 0 ? [lead, sensorCheck] : [lead];
  });
  return [...new Set([...checks, everyCode])].slice(0, 6);
}

/** The cautions that go with it. */
export function doNot(listed: readonly ScoredTrouble[], judgement: Judgement): string[] {
  const named = judgement.origins.length > 0 ? judgement.origins : listed.slice(0, 3);
  const classes = named.map(({ trouble }) => trouble.description.inducementClass);
  const isOf = (...wanted: readonly InducementClass[]) => classes.some((one) => one !== null && wanted.includes(one));
  return [
    ...alwaysNot,
    ...(isOf('level', 'quality', 'dosing') ? [defNot] : []),
    ...(isOf('quality') ? [dieselNot] : []),
    ...(isOf('soot') ? [sootNot] : []),
    ...(isOf('protection') ? [heatNot] : []),
  ];
}

/** The answer in one sentence. */
export function summaryOf(origins: readonly OriginCandidate[], verdict: InquiryVerdict): string {
  const named = origins.filter(({ isOrigin }) => isOrigin).map(({ spn, fmi, text }) => `${text} (${spn}/${fmi})`);
  if (verdict === 'found') return `It began with ${named[0]}.`;
  if (verdict === 'several') return `Several faults can each have begun it: ${named.join('; ')}.`;
  const first = origins[0];
  if (first === undefined) return 'Nothing that was recorded explains it.';
  return `What began it is not clear; the nearest is ${first.text} (${first.spn}/${first.fmi}).`;
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

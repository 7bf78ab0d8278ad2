/** Whether a fault of its kind takes power at all. */

import { inducementClassTexts } from './inducement-class.js';
import type { Factor } from './score-context.js';
import type { Trouble } from './trouble.js';

/** Source: engineering judgement. */
const factors = { usually: 1, may: 0.4, unknown: 0.3, manufacturer: 0.4 };
const mildFactor = 0.5;
/** Lamps that came on with it. Source: engineering judgement. */
const lampFactors = { lit: 1.25, dark: 0.8 };
/** Controllers that have to do with the engine: engine, exhaust, NOx sensors, filter, DEF sensor. Source: SAE J1939-81, domain notes 1. */
const engineAddresses: readonly (number | null)[] = [null, 0, 1, 61, 81, 82, 85, 86, 87, 163];
const strangerFactor = 0.5;

/** A factor for what the code is and how the machine took it. */
export function capabilityFactor(trouble: Trouble): Factor {
  const { description, anchor, isMild } = trouble;
  const { isKnown, isManufacturer, derates, inducementClass } = description;
  const own = isKnown
    ? factors[derates === 'usually' ? 'usually' : 'may']
    : isManufacturer
      ? factors.manufacturer
      : factors.unknown;
  const isStranger = !engineAddresses.includes(anchor.sourceAddress) && derates !== 'usually';
  const factor = own * (isMild ? mildFactor : 1) * lampFactor(trouble) * (isStranger ? strangerFactor : 1);
  return {
    factor,
    evidence: {
      kind: 'capability',
      text: isKnown
        ? `${inducementClass === null ? 'This fault' : `Class "${inducementClassTexts[inducementClass]}"`} ${derates === 'usually' ? 'takes power if it lasts' : 'takes power on some engines'}.`
        : `What ${description.spnText} means only its maker says; it may take power.`,
      supports: derates === 'usually' ? true : null,
      figures: { isManufacturer, isMild, controller: anchor.sourceAddress },
    },
  };
}

function lampFactor({ episodes }: Trouble): number {
  const lamps = episodes.flatMap((episode) => Object.values(episode.lamps));
  if (lamps.includes('on')) return lampFactors.lit;
  return lamps.some((lamp) => lamp === 'off') ? lampFactors.dark : 1;
}

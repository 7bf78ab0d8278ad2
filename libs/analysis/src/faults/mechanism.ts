/** By which way a derate came, as far as broadcasts and codes tell: an inducement, or protection of the engine. */

import { describeFault } from './describe-fault.js';
import { explains } from './explains.js';
import { type InducementClass, inducementClassTexts } from './inducement-class.js';
import type { Factor, ScoreContext } from './score-context.js';
import type { Trouble } from './trouble.js';

export interface Mechanism {
  /** true: broadcast or coded as an inducement; false: broadcast as none; null: nothing tells. */
  readonly isInducement: boolean | null;
  readonly saidClass: InducementClass | null;
  /** When the inducement's first warning came; null when it was not seen to begin. */
  readonly warnedMs: number | null;
}

const hourMs = 3_600_000;
/** Severity from which it warns. Source: SPN 5246, domain notes 7.3. */
const warnSeverity = 1;
/** How far back a warning is followed. Source: the longest schedule, 100 engine hours, as days. */
const warnReachMs = 30 * 24 * hourMs;
/** Samples further apart than this did not see what came in between. Source: engineering judgement. */
const seenWithinMs = 30 * 60_000;
/** A controller warns within this of confirming the fault. Source: engineering judgement. */
const warnNearMs = 20 * 60_000;

const induced: readonly InducementClass[] = ['level', 'quality', 'dosing', 'tampering', 'egr'];
/** How well classes go with each way. Source: engineering judgement. */
const fits = {
  inducement: { induced: 1, soot: 0.15, protection: 0.12, other: 0.25, unknown: 0.5 },
  protection: { induced: 0.15, soot: 1, protection: 1, other: 0.8, unknown: 0.7 },
  unclear: { induced: 0.8, soot: 0.9, protection: 1, other: 0.6, unknown: 0.6 },
};
const said = { same: 1.5, related: 0.7, other: 0.2 };
const warned = { near: 1.7, long: 0.8, after: 0.3 };

/** Reads the signs. */
export function mechanismOf({ derate, view, faults, fleetTable }: ScoreContext): Mechanism {
  const { startedMs, signs, saidClass } = derate;
  const around = view.values('inducementSeverity', { fromMs: startedMs - hourMs, toMs: startedMs + hourMs });
  const isCoded = signs.includes('inducement-code') || signs.includes('inducement-severity');
  const isDenied = around.length > 0 && around.every(({ value }) => value < warnSeverity);
  const isInducement = isCoded || saidClass !== null ? true : isDenied ? false : null;
  const codes = faults
    .filter(({ spn, fmi, isPreviouslyActiveOnly, endedMs }) => {
      const { isConsequence, isDerateCode, known } = describeFault(spn, fmi, fleetTable);
      const isWarning = isConsequence && !isDerateCode && known?.role === 'inducement';
      return isWarning && !isPreviouslyActiveOnly && (endedMs ?? startedMs) >= startedMs - hourMs;
    })
    .map((fault) => fault.startedMs)
    .filter((timeMs) => timeMs <= startedMs);
  const byCode = codes.length === 0 ? null : Math.min(...codes);
  return { isInducement, saidClass, warnedMs: warningStart(view, startedMs) ?? byCode };
}

/** The first warning of an unbroken row of them before the derate, if the time before it was without. */
function warningStart(view: ScoreContext['view'], startMs: number): number | null {
  const values = view.values('inducementSeverity', { fromMs: startMs - warnReachMs, toMs: startMs });
  let firstMs: number | null = null;
  for (let i = values.length - 1; i >= 0; i--) {
    const { timeMs, value } = values[i] as { timeMs: number; value: number };
    // Only a change that was recorded tells when: samples may be of parts of the time.
    if (value < warnSeverity) return firstMs !== null && firstMs - timeMs <= seenWithinMs ? firstMs : null;
    firstMs = timeMs;
  }
  return null;
}

/** Factors for the way it came, what it is said to be about, and when it was first warned of. */
export function mechanismFactor(
  trouble: Trouble,
  classes: readonly (InducementClass | null)[],
  seen: { mechanism: Mechanism; all: readonly Trouble[] },
): Factor[] {
  const { mechanism, all } = seen;
  const list = [wayFactor(classes, mechanism)];
  if (mechanism.saidClass !== null) list.push(saidFactor(classes, mechanism.saidClass));
  if (mechanism.warnedMs !== null)
    list.push(warnedFactor([trouble, ...all.filter((other) => explains(trouble, other))], mechanism.warnedMs));
  return list;
}

function wayFactor(classes: readonly (InducementClass | null)[], { isInducement }: Mechanism): Factor {
  const table = isInducement === null ? fits.unclear : isInducement ? fits.inducement : fits.protection;
  const factor = Math.max(...classes.map((one) => table[groupOf(one)]));
  const way =
    isInducement === null
      ? 'No sign tells by which way the power was taken'
      : isInducement
        ? 'It came as an inducement'
        : 'It came without an inducement';
  const ending =
    isInducement === null
      ? '.'
      : factor >= 0.7
        ? ', as this kind of fault does.'
        : ', which this kind of fault does not bring.';
  return {
    factor,
    evidence: {
      kind: 'class',
      text: way + ending,
      supports: isInducement === null ? null : factor >= 0.7,
      figures: {},
    },
  };
}

function groupOf(one: InducementClass | null): keyof typeof fits.unclear {
  if (one === null) return 'unknown';
  if (induced.includes(one)) return 'induced';
  return one === 'soot' || one === 'protection' ? one : 'other';
}

function saidFactor(classes: readonly (InducementClass | null)[], saidClass: InducementClass): Factor {
  const isSame = classes.includes(saidClass);
  const isRelated = classes.some(
    (one) => one === null || one === 'tampering' || one === 'dosing' || one === 'quality' || one === 'other',
  );
  const factor = isSame ? said.same : isRelated ? said.related : said.other;
  return {
    factor,
    evidence: {
      kind: 'class',
      text: `A code says that it is about "${inducementClassTexts[saidClass]}".`,
      supports: isSame,
      figures: { saidClass },
    },
  };
}

/** The warning comes with the trouble or with what follows from it. */
function warnedFactor(chain: readonly Trouble[], warnedMs: number): Factor {
  const times = chain.flatMap(({ anchorMs, firstMs }) => [anchorMs, firstMs]);
  const isNear = times.some((timeMs) => Math.abs(timeMs - warnedMs) <= warnNearMs);
  const isBefore = times.some((timeMs) => timeMs < warnedMs);
  return {
    factor: isNear ? warned.near : isBefore ? warned.long : warned.after,
    evidence: {
      kind: 'schedule',
      text: isNear
        ? 'The first warning of the inducement came with it.'
        : isBefore
          ? 'The first warning of the inducement came later.'
          : 'The first warning of the inducement had come before it.',
      supports: isNear ? true : isBefore ? null : false,
      figures: { warnedAfterS: Math.round((warnedMs - (chain[0]?.anchorMs ?? warnedMs)) / 1000) },
    },
  };
}

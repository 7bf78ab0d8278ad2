/** A rule as a form has it: texts to type into, times in minutes or hours; and back again. */

import type { RuleDocument } from '@warmbrick/contracts';

export type Rule = RuleDocument['rule'];

/** Readings of a finding's own figure that a rule may ask for. */
export type WhereTest = 'atLeast' | 'atMost' | 'is' | 'anyOf';

export interface WhereDraft {
  readonly value: string;
  readonly test: WhereTest;
  readonly level: string;
  readonly clear: string;
}

export type LooksAt = 'finding' | 'figure' | 'rise' | 'silence';

/** What a person may type; an empty text stands for what is left out. */
export interface RuleDraft {
  readonly id: string;
  readonly title: string;
  readonly looksAt: LooksAt;
  readonly finding: string;
  readonly leastSeverity: string;
  readonly where: readonly WhereDraft[];
  readonly figure: string;
  readonly test: 'atLeast' | 'atMost';
  readonly level: string;
  readonly clear: string;
  readonly riseBy: string;
  readonly riseWithinH: string;
  readonly silentMin: string;
  readonly severity: string;
  readonly severitySteps: readonly { readonly at: string; readonly severity: string }[];
  readonly onDelayMin: string;
  readonly offDelayMin: string;
  readonly isLatched: boolean;
  readonly releaseAfterH: string;
  readonly latenessMin: string;
  readonly unknownAfterMin: string;
  readonly during: string;
  readonly pagesFrom: string;
  readonly escalation: readonly { readonly afterMin: string; readonly to: string }[];
  readonly fleets: string;
  readonly sites: string;
  readonly classes: string;
  readonly machines: string;
  readonly advice: string;
  readonly caution: string;
  readonly source: string;
  readonly isEnabled: boolean;
}

const minuteS = 60;
const hourS = 3600;

/** Where a new rule begins. */
export const emptyDraft: RuleDraft = {
  id: '',
  title: '',
  looksAt: 'figure',
  finding: 'idle-streak',
  leastSeverity: 'info',
  where: [],
  figure: 'score',
  test: 'atLeast',
  level: '',
  clear: '',
  riseBy: '',
  riseWithinH: '24',
  silentMin: '1440',
  severity: 'as-found',
  severitySteps: [],
  onDelayMin: '0',
  offDelayMin: '0',
  isLatched: false,
  releaseAfterH: '24',
  latenessMin: '15',
  unknownAfterMin: '30',
  during: 'always',
  pagesFrom: 'warning',
  escalation: [],
  fleets: '',
  sites: '',
  classes: '',
  machines: '',
  advice: '',
  caution: '',
  source: 'set by the user',
  isEnabled: true,
};

/** The draft of a rule; `ruleOf` gives the rule back. */
export function draftOf(rule: Rule): RuleDraft {
  const { id, title, severity, isLatched, during, pagesFrom, source, isEnabled, appliesTo } = rule;
  return {
    ...emptyDraft,
    ...whenDraft(rule.when),
    id,
    title,
    severity,
    severitySteps: rule.severitySteps.map((step) => ({ at: String(step.at), severity: step.severity })),
    onDelayMin: inUnit(rule.onDelayS, minuteS),
    offDelayMin: inUnit(rule.offDelayS, minuteS),
    isLatched,
    releaseAfterH: inUnit(rule.releaseAfterS, hourS),
    latenessMin: inUnit(rule.latenessS, minuteS),
    unknownAfterMin: inUnit(rule.unknownAfterS, minuteS),
    during,
    pagesFrom,
    escalation: rule.escalation.map(({ afterS, to }) => ({ afterMin: inUnit(afterS, minuteS), to })),
    fleets: appliesTo.fleets.join(', '),
    sites: appliesTo.sites.join(', '),
    classes: appliesTo.classes.join(', '),
    machines: appliesTo.machines.join(', '),
    advice: rule.advice ?? '',
    caution: rule.caution ?? '',
    source,
    isEnabled,
  };
}

function whenDraft(when: Rule['when']): Partial<RuleDraft> {
  if ('finding' in when) {
    const where = when.where.map((one): WhereDraft => ({ value: one.value, ...levelDraft(one) }));
    return { looksAt: 'finding', finding: when.finding, leastSeverity: when.leastSeverity, where };
  }
  if ('figure' in when) {
    const { test, level, clear } = levelDraft(when);
    return { looksAt: 'figure', figure: when.figure, test: test === 'atMost' ? 'atMost' : 'atLeast', level, clear };
  }
  if ('rising' in when) {
    const riseWithinH = inUnit(when.withinS, hourS);
    return { looksAt: 'rise', figure: when.rising, riseBy: String(when.by), riseWithinH };
  }
  return { looksAt: 'silence', silentMin: inUnit(when.silentS, minuteS) };
}

/** Levels of a condition, of which a rule has some. */
export interface Levels {
  readonly atLeast?: number | undefined;
  readonly atMost?: number | undefined;
  readonly clearBelow?: number | undefined;
  readonly clearAbove?: number | undefined;
  readonly is?: string | boolean | undefined;
  readonly anyOf?: readonly string[] | undefined;
}

function levelDraft({ atLeast, atMost, clearBelow, clearAbove, is, anyOf }: Levels): Omit<WhereDraft, 'value'> {
  if (is !== undefined) return { test: 'is', level: String(is), clear: '' };
  if (anyOf !== undefined) return { test: 'anyOf', level: anyOf.join(', '), clear: '' };
  const clear = clearBelow ?? clearAbove;
  const level = atLeast ?? atMost;
  return {
    test: atLeast === undefined ? 'atMost' : 'atLeast',
    level: level === undefined ? '' : String(level),
    clear: clear === undefined ? '' : String(clear),
  };
}

/**
 * The rule that a draft says, for the server to check.
 *
 * Missing: an empty text is left out, so that the server's default or its word on what is missing applies; a text where a
 * number belongs stays a text, which the server names.
 */
export function ruleOf(draft: RuleDraft): unknown {
  const { title, severity, isLatched, during, pagesFrom, isEnabled } = draft;
  return {
    id: draft.id === '' ? idOf(title) : draft.id,
    title,
    when: whenOf(draft),
    severity,
    severitySteps:
      draft.looksAt === 'figure' || draft.looksAt === 'rise'
        ? draft.severitySteps.map((step) => ({ at: numberOf(step.at), severity: step.severity }))
        : [],
    onDelayS: inSeconds(draft.onDelayMin, minuteS),
    offDelayS: inSeconds(draft.offDelayMin, minuteS),
    isLatched: isLatched && draft.looksAt !== 'silence',
    releaseAfterS: inSeconds(draft.releaseAfterH, hourS),
    latenessS: inSeconds(draft.latenessMin, minuteS),
    unknownAfterS: inSeconds(draft.unknownAfterMin, minuteS),
    during,
    pagesFrom,
    escalation: draft.escalation.map(({ afterMin, to }) => ({ afterS: inSeconds(afterMin, minuteS), to: to.trim() })),
    appliesTo: {
      fleets: namesOf(draft.fleets),
      sites: namesOf(draft.sites),
      classes: namesOf(draft.classes),
      machines: namesOf(draft.machines),
    },
    advice: draft.advice.trim() === '' ? null : draft.advice.trim(),
    caution: draft.caution.trim() === '' ? null : draft.caution.trim(),
    source: draft.source.trim() === '' ? undefined : draft.source.trim(),
    isEnabled,
  };
}

function whenOf(draft: RuleDraft): unknown {
  switch (draft.looksAt) {
    case 'finding':
      return {
        finding: draft.finding,
        leastSeverity: draft.leastSeverity,
        where: draft.where.map((one) => ({ value: one.value.trim(), ...levelsOf(one) })),
      };
    case 'figure':
      return { figure: draft.figure, ...levelsOf(draft) };
    case 'rise':
      return {
        rising: draft.figure,
        by: numberOf(draft.riseBy),
        withinS: inSeconds(draft.riseWithinH, hourS),
      };
    case 'silence':
      return { silentS: inSeconds(draft.silentMin, minuteS) };
  }
}

function levelsOf({ test, level, clear }: Omit<WhereDraft, 'value'>): Levels & Record<string, unknown> {
  if (test === 'is') return { is: level === 'true' || level === 'false' ? level === 'true' : level.trim() };
  if (test === 'anyOf') return { anyOf: namesOf(level) };
  const clearName = test === 'atLeast' ? 'clearBelow' : 'clearAbove';
  return { [test]: numberOf(level), ...(clear.trim() === '' ? {} : { [clearName]: numberOf(clear) }) };
}

/** An id made of a title: "Idle at the gate" gives "idle-at-the-gate". */
export function idOf(title: string): string {
  return title
    .normalize('NFKD')
    .toLowerCase()
    .replace(/\p{M}/gu, '')
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 60)
    .replace(/-+$/, '');
}

function namesOf(text: string): string[] {
  return text
    .split(',')
    .map((name) => name.trim())
    .filter((name) => name !== '');
}

function numberOf(text: string): number | string | undefined {
  const trimmed = text.trim();
  if (trimmed === '') return undefined;
  const value = Number(trimmed);
  return Number.isFinite(value) ? value : trimmed;
}

function inUnit(lengthS: number, unitS: number): string {
  return String(lengthS / unitS);
}

function inSeconds(text: string, unitS: number): number | string | undefined {
  const value = numberOf(text);
  return typeof value === 'number' ? Math.round(value * unitS * 1000) / 1000 : value;
}

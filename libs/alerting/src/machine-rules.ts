/** The rules of one machine, sorted by what they look at, so that a batch asks only those it concerns. */

import type { FindingKind } from '@warmbrick/analysis';
import {
  type FigureCondition,
  type FindingCondition,
  isOnFigure,
  isOnFinding,
  isOnRise,
  isOnSilence,
  type RiseCondition,
  type Rule,
  type SilenceCondition,
} from './rule.js';
import { type MachinePlace, type RuleBook, rulesOfMachine } from './rule-book.js';

export type RuleOn<Condition> = Rule & { readonly when: Condition };

export interface MachineRules {
  readonly book: RuleBook;
  readonly place: MachinePlace;
  readonly byId: ReadonlyMap<string, Rule>;
  readonly byKind: ReadonlyMap<FindingKind, readonly RuleOn<FindingCondition>[]>;
  readonly onFigures: readonly RuleOn<FigureCondition>[];
  readonly onRises: readonly RuleOn<RiseCondition>[];
  readonly onSilence: readonly RuleOn<SilenceCondition>[];
}

/** Sorts the rules that apply to a machine; keep the result as long as book and place are the same. */
export function machineRules(book: RuleBook, place: MachinePlace): MachineRules {
  const rules = rulesOfMachine(book, place);
  const byKind = new Map<FindingKind, RuleOn<FindingCondition>[]>();
  for (const rule of rules) {
    if (!isOnFinding(rule.when)) continue;
    const others = byKind.get(rule.when.finding) ?? [];
    byKind.set(rule.when.finding, [...others, rule as RuleOn<FindingCondition>]);
  }
  return {
    book,
    place,
    byId: new Map(rules.map((rule) => [rule.id, rule])),
    byKind,
    onFigures: rules.filter(({ when }) => isOnFigure(when)) as RuleOn<FigureCondition>[],
    onRises: rules.filter(({ when }) => isOnRise(when)) as RuleOn<RiseCondition>[],
    onSilence: rules.filter(({ when }) => isOnSilence(when)) as RuleOn<SilenceCondition>[],
  };
}

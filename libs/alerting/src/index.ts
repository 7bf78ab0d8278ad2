export * from './alert.js';
export { type AlertingState, initialAlertingState, mostOpen } from './alerting-state.js';
export { builtInRules } from './built-in-rules.js';
export { type Figure, figureNames, figureOf, figures } from './figures.js';
export { type AnalysedChange, type ChangeInput, foldChange, type Recall, recallOf } from './fold-change.js';
export { foldTick, nextDueMs, type TickInput } from './fold-tick.js';
export type { Folded } from './fold-work.js';
export { type MachineRules, machineRules } from './machine-rules.js';
export { type Acted, type ActionInput, act, longestShelfMs, type OperatorAction } from './operator-action.js';
export { type ReadRule, type RuleProblem, readRule } from './read-rule.js';
export { isOnFinding, isOnSilence, type Rule, type RuleInput, ruleIdPattern, ruleSchema } from './rule.js';
export {
  builtInBook,
  type MachinePlace,
  type MaintenanceWindow,
  maintenanceWindowSchema,
  type OwnRule,
  type RuleBook,
  rulesOfFleet,
} from './rule-book.js';
export { nextShiftChange, shiftAt, wallTime } from './shift-calendar.js';
export { findingEntries, type HistoryEntry, type MachineHistoryToTry, type TriedRule, tryRule } from './try-rule.js';

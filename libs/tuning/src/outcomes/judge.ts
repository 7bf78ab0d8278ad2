/** Judging one machine's findings by what really happened. */

import type { TrialFinding } from '../trial-types.js';
import type { JudgingRule } from './judging-rule.js';
import { usualWithinMs } from './judging-rule.js';
import type { TruthLabel } from './truth-label.js';

/** Counts of one machine; they add up over machines. */
export interface MachineOutcome {
  readonly machineId: string;
  readonly machineClass: string;
  /** Machine time judged. */
  readonly observedMs: number;
  /** Labels that are required. */
  readonly labels: number;
  readonly hits: number;
  readonly misses: number;
  /** Findings of the judged kinds; those that answer no label; those that only answer one that is not required. */
  readonly raised: number;
  readonly falseAlarms: number;
  /** Sum over the hits of label start less first knowledge: positive is a warning ahead, negative a delay. */
  readonly leadMs: number;
}

export interface JudgingInput {
  readonly machineId: string;
  readonly machineClass: string;
  readonly observedMs: number;
  readonly findings: readonly TrialFinding[];
  /** Labels of this machine. */
  readonly labels: readonly TruthLabel[];
  readonly rules: readonly JudgingRule[];
  readonly withinMs?: number;
}

/**
 * Judges one machine. A label is hit when any finding answers it, once however many do; a finding is a false alarm when it
 * answers no label. Labels without a rule count for nothing, nor do findings of kinds that no rule names.
 */
export function judgeMachine(input: JudgingInput): MachineOutcome {
  const { rules, labels, withinMs = usualWithinMs } = input;
  const judgedKinds = new Set<string>(rules.flatMap((rule) => rule.findings));
  const raised = input.findings.filter(({ finding }) => judgedKinds.has(finding.kind));
  const answered = new Set<TrialFinding>();
  let hits = 0;
  let required = 0;
  let leadMs = 0;
  for (const label of labels) {
    const rule = rules.find((one) => one.label === label.kind);
    if (rule === undefined) continue;
    const answers = raised.filter((one) => answersLabel(one, label, { rule, withinMs }));
    for (const one of answers) answered.add(one);
    if (!label.isRequired) continue;
    required++;
    if (answers.length === 0) continue;
    hits++;
    leadMs += label.startedMs - Math.min(...answers.map((one) => one.raisedMs));
  }
  return {
    machineId: input.machineId,
    machineClass: input.machineClass,
    observedMs: input.observedMs,
    labels: required,
    hits,
    misses: required - hits,
    raised: raised.length,
    falseAlarms: raised.length - answered.size,
    leadMs,
  };
}

function answersLabel(
  { finding, raisedMs }: TrialFinding,
  label: TruthLabel,
  { rule, withinMs }: { readonly rule: JudgingRule; readonly withinMs: number },
): boolean {
  if (!rule.findings.includes(finding.kind)) return false;
  if (rule.foretellsMs !== null) {
    return raisedMs <= label.startedMs && raisedMs >= label.startedMs - rule.foretellsMs;
  }
  const findingEndMs = finding.endedMs ?? Math.max(finding.emittedMs, finding.startedMs);
  const labelEndMs = label.endedMs ?? label.startedMs;
  return finding.startedMs <= labelEndMs + withinMs && findingEndMs >= label.startedMs - withinMs;
}

/** Which findings answer which truth, as said on a command line. */

import { type FindingKind, findingKinds } from '@warmbrick/analysis';
import { nearestName, OperatingError } from '@warmbrick/runtime';
import { type JudgingRule, sameKindRule, type TruthLabel } from '@warmbrick/tuning';

/**
 * A rule written as `label=finding,finding` (touches it in time) or `label=finding,finding@48h` (known within so many hours
 * before it).
 *
 * Errors: OperatingError `bad-truth`, naming the nearest kind of finding.
 */
export function parseJudgingRule(text: string): JudgingRule {
  const parts = /^([^=\s]+)=([a-z-]+(?:,[a-z-]+)*)(?:@(\d+(?:\.\d+)?)h)?$/.exec(text);
  if (parts === null) throw badRule(text, 'it is not written as label=finding,finding or label=finding,finding@48h.');
  const findings = (parts[2] as string).split(',').map((kind) => {
    if ((findingKinds as readonly string[]).includes(kind)) return kind as FindingKind;
    const near = nearestName(kind, findingKinds);
    throw badRule(text, `there is no finding "${kind}"${near === null ? '' : `; did you mean ${near}?`}.`);
  });
  const hours = parts[3] === undefined ? null : Number(parts[3]);
  return { label: parts[1] as string, findings, foretellsMs: hours === null ? null : hours * 3_600_000 };
}

/**
 * The rules that labels are judged by: those that were said, else each label by the finding of its own kind.
 *
 * Errors: OperatingError `bad-truth` when nothing of the labels can be judged.
 */
export function judgingRules(said: readonly JudgingRule[], labels: readonly TruthLabel[]): JudgingRule[] {
  const present = [...new Set(labels.map((label) => label.kind))].sort();
  const rules =
    said.length > 0
      ? [...said]
      : present
          .filter((kind) => (findingKinds as readonly string[]).includes(kind))
          .map((kind) => sameKindRule(kind as FindingKind));
  const isJudged = rules.some((rule) => present.includes(rule.label));
  if (isJudged) return rules;
  throw new OperatingError(`none of the labels can be judged; their kinds are: ${present.join(', ') || 'none'}.`, {
    code: 'bad-truth',
    remedy: 'Say which findings answer them, such as --judge derate=cold-dwell,def-low@48h.',
  });
}

function badRule(text: string, message: string): OperatingError {
  return new OperatingError(message, {
    code: 'bad-truth',
    where: `--judge ${text}`,
    remedy: 'Such as --judge idle-streak=idle-streak or --judge derate=cold-dwell,def-low@48h.',
  });
}

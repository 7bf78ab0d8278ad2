/** Rules as data: what is worth an alert, for which machines, how it is held, and whom it reaches. */

import { findingKinds, severities } from '@warmbrick/analysis';
import { z } from 'zod';
import { figureNames } from './figures.js';

const dayS = 86_400;
/** Longest hold of any kind. Source: engineering judgement. */
const longestS = 30 * dayS;

const seconds = (usual: number) => z.number().min(0).max(longestS).default(usual);

/** A figure of the finding: a level to raise at and, where it differs, one to clear at; or what it must be. */
const whereSchema = z
  .strictObject({
    value: z.string().min(1).max(60),
    atLeast: z.number().optional(),
    clearBelow: z.number().optional(),
    atMost: z.number().optional(),
    clearAbove: z.number().optional(),
    is: z.union([z.string().max(80), z.boolean()]).optional(),
    anyOf: z.array(z.string().max(80)).min(1).max(20).optional(),
  })
  .superRefine((where, context) => {
    const tests = [where.atLeast, where.atMost, where.is, where.anyOf].filter((test) => test !== undefined).length;
    if (tests !== 1) {
      context.addIssue({ code: 'custom', message: 'say exactly one of atLeast, atMost, is and anyOf' });
    }
    checkLevels(where, context);
  });

interface Levels {
  readonly atLeast?: number | undefined;
  readonly clearBelow?: number | undefined;
  readonly atMost?: number | undefined;
  readonly clearAbove?: number | undefined;
}

function checkLevels(levels: Levels, context: z.RefinementCtx): void {
  const { atLeast, clearBelow, atMost, clearAbove } = levels;
  if (clearBelow !== undefined && (atLeast === undefined || clearBelow > atLeast)) {
    context.addIssue({
      code: 'custom',
      path: ['clearBelow'],
      message: 'clearBelow goes with atLeast and is not above it',
    });
  }
  if (clearAbove !== undefined && (atMost === undefined || clearAbove < atMost)) {
    context.addIssue({
      code: 'custom',
      path: ['clearAbove'],
      message: 'clearAbove goes with atMost and is not below it',
    });
  }
}

const onFindingSchema = z.strictObject({
  finding: z.enum(findingKinds),
  leastSeverity: z.enum(severities).default('info'),
  where: z.array(whereSchema).max(8).default([]),
});

const onFigureSchema = z
  .strictObject({
    figure: z.enum(figureNames),
    atLeast: z.number().optional(),
    clearBelow: z.number().optional(),
    atMost: z.number().optional(),
    clearAbove: z.number().optional(),
  })
  .superRefine((levels, context) => {
    if ((levels.atLeast === undefined) === (levels.atMost === undefined)) {
      context.addIssue({ code: 'custom', message: 'say either atLeast or atMost' });
    }
    checkLevels(levels, context);
  });

const onRiseSchema = z.strictObject({
  rising: z.enum(figureNames),
  /** By so much, against the lowest within the time; clears when it has risen by less than half of that. */
  by: z.number().positive(),
  withinS: z
    .number()
    .min(3600)
    .max(2 * dayS)
    .default(dayS),
});

const onSilenceSchema = z.strictObject({
  /** So long after the last sample, by the wall clock; only for machines that were live before. */
  silentS: z.number().min(60).max(longestS),
});

/** What a rule looks at. */
const whenSchema = z.union([onFindingSchema, onFigureSchema, onRiseSchema, onSilenceSchema]);

const names = z.array(z.string().min(1).max(100)).max(1000).default([]);

const escalationSchema = z.strictObject({
  /** Wall clock after the alert paged and nobody acknowledged it. */
  afterS: z.number().min(60).max(longestS),
  to: z.string().min(1).max(80),
});

const stepSchema = z.strictObject({ at: z.number(), severity: z.enum(severities) });

export const ruleIdPattern = /^[a-z0-9]+(-[a-z0-9]+)*$/;

/** A rule as written in a file; what is left out has a default. */
export const ruleSchema = z
  .strictObject({
    id: z
      .string()
      .max(60)
      .regex(ruleIdPattern, 'expected small letters, digits and hyphens, such as "idle-at-the-gate"'),
    title: z.string().min(1).max(80),
    when: whenSchema,
    /** `as-found`: that of the finding; for anything else `warning`. */
    severity: z.enum([...severities, 'as-found']).default('as-found'),
    /** For figures: from a level on another severity, in order from mild to grave. */
    severitySteps: z.array(stepSchema).max(4).default([]),
    /** On-delay: so long it must hold before it opens; off-delay: so long it must be over before it closes. */
    onDelayS: seconds(0),
    offDelayS: seconds(0),
    /** Latched: stays active after its end until somebody acknowledges it or `releaseAfterS` have passed. */
    isLatched: z.boolean().default(false),
    releaseAfterS: seconds(dayS),
    /** What is learned later than this after it was so is about the past, and pages nobody. */
    latenessS: seconds(900),
    /** So long without data, and nobody knows whether it still holds. */
    unknownAfterS: z.number().min(60).max(longestS).default(1800),
    /** By the machine's shifts; at other times it is suppressed by design. */
    during: z.enum(['always', 'in-shift', 'out-of-shift']).default('always'),
    /** From this severity on it pages; below it is only a line where people look. */
    pagesFrom: z.enum(severities).default('warning'),
    escalation: z.array(escalationSchema).max(5).default([]),
    appliesTo: z.strictObject({ fleets: names, sites: names, classes: names, machines: names }).prefault({}),
    advice: z.string().max(300).nullable().default(null),
    caution: z.string().max(300).nullable().default(null),
    /** Where its levels come from. */
    source: z.string().max(200).default('set by the user'),
    isEnabled: z.boolean().default(true),
  })
  .superRefine((rule, context) => {
    const isOnFigure = 'figure' in rule.when || 'rising' in rule.when;
    if (rule.severitySteps.length > 0 && !isOnFigure) {
      context.addIssue({
        code: 'custom',
        path: ['severitySteps'],
        message: 'only a rule over a figure has severitySteps',
      });
    }
    const after = rule.escalation.map(({ afterS }) => afterS);
    if (after.some((value, at) => at > 0 && value <= (after[at - 1] as number))) {
      context.addIssue({
        code: 'custom',
        path: ['escalation'],
        message: 'each afterS must be later than the one before',
      });
    }
    if ('silentS' in rule.when && rule.isLatched) {
      context.addIssue({
        code: 'custom',
        path: ['isLatched'],
        message: 'silence ends with the next sample; it is not latched',
      });
    }
  })
  .meta({ id: 'AlertRule' });

export type RuleInput = z.input<typeof ruleSchema>;
export type Rule = z.output<typeof ruleSchema>;
export type RuleCondition = Rule['when'];
export type FindingCondition = z.output<typeof onFindingSchema>;
export type FigureCondition = z.output<typeof onFigureSchema>;
export type RiseCondition = z.output<typeof onRiseSchema>;
export type SilenceCondition = z.output<typeof onSilenceSchema>;
export type Where = z.output<typeof whereSchema>;

export function isOnFinding(when: RuleCondition): when is FindingCondition {
  return 'finding' in when;
}
export function isOnFigure(when: RuleCondition): when is FigureCondition {
  return 'figure' in when;
}
export function isOnRise(when: RuleCondition): when is RiseCondition {
  return 'rising' in when;
}
export function isOnSilence(when: RuleCondition): when is SilenceCondition {
  return 'silentS' in when;
}

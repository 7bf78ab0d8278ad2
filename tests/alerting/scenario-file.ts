/** What a scenario file holds. */

import { readFileSync } from 'node:fs';
import { builtInRules, type Rule, ruleSchema } from '@warmbrick/alerting';
import { type MachineProfile, machineProfileSchema } from '@warmbrick/signals';
import { parse } from 'yaml';
import { z } from 'zod';

const offset = z.string().regex(/^\d{1,3}:\d\d$/, 'expected an offset such as "01:20"');

const scenarioSchema = z.strictObject({
  title: z.string(),
  from: z.iso.datetime(),
  every: z.string().regex(/^\d+[smh]$/),
  machine: z.looseObject({}).default({}),
  /** Ids of built-in rules, built-in ones with changes (`use`), or whole rules. All others are switched off. */
  rules: z.array(z.union([z.string(), z.looseObject({})])).min(1),
  series: z.record(z.string(), z.string()),
  /** Minutes by which each interval's samples come late; the last holds on. */
  late: z.string().optional(),
  /** Figures of findings; `elapsed` is the seconds since its start. */
  figures: z
    .record(z.string(), z.record(z.string(), z.union([z.number(), z.string(), z.boolean(), z.null()])))
    .default({}),
  maintenance: z
    .array(z.strictObject({ from: offset, to: offset.optional(), site: z.string().optional(), reason: z.string() }))
    .default([]),
  do: z.record(offset, z.union([z.string(), z.array(z.string())])).default({}),
  expect: z.array(z.string()),
  /** Parts of the text that the numbered event has to have. */
  says: z.record(z.string(), z.string()).default({}),
});

export interface Scenario extends Omit<z.output<typeof scenarioSchema>, 'rules' | 'machine'> {
  readonly rules: readonly Rule[];
  readonly profile: MachineProfile;
  readonly fromMs: number;
  readonly everyMs: number;
}

/** Reads a file. Errors: throws on what does not fit, naming it. */
export function readScenario(path: string): Scenario {
  const raw = scenarioSchema.parse(parse(readFileSync(path, 'utf8')));
  const { rules, machine, ...rest } = raw;
  const unit = { s: 1000, m: 60_000, h: 3_600_000 }[raw.every.slice(-1)] as number;
  return {
    ...rest,
    rules: rules.map(readOne),
    profile: machineProfileSchema.parse(machine),
    fromMs: Date.parse(raw.from),
    everyMs: Number(raw.every.slice(0, -1)) * unit,
  };
}

function readOne(given: string | Record<string, unknown>): Rule {
  const { use, ...changes } = typeof given === 'string' ? { use: given } : given;
  if (use === undefined) return ruleSchema.parse(changes);
  const builtIn = builtInRules.find(({ id }) => id === use);
  if (builtIn === undefined) throw new Error(`no built-in rule is called ${String(use)}`);
  return ruleSchema.parse({ ...builtIn, ...changes });
}

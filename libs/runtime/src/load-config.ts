/** The settings of a service: defaults, then a file, then the environment, then flags. */

import type { z } from 'zod';
import { type ConfigSources, gatherConfig, variableName } from './config-sources.js';
import { OperatingError } from './operating-error.js';

export interface ExplainedSetting {
  readonly name: string;
  /** Variable that sets it. */
  readonly variable: string;
  /** The value in force; secrets are not shown. */
  readonly value: unknown;
  readonly origin: string;
  /** What it is for: the field's `.meta({ description })`. */
  readonly meaning: string;
}

/**
 * Reads and checks the settings.
 *
 * Errors: OperatingError `bad-config` that lists all problems at once, and for an unknown name the nearest known one.
 */
export function loadConfig<S extends z.ZodObject>(schema: S, sources: ConfigSources): z.output<S> {
  return readConfig(schema, sources).config;
}

/**
 * Every setting with its value and where that came from; settings marked `.meta({ secret: true })` show as `***`.
 *
 * Errors: as `loadConfig`.
 */
export function explainConfig(schema: z.ZodObject, sources: ConfigSources): ExplainedSetting[] {
  const { config, origins } = readConfig(schema, sources);
  return Object.entries(schema.shape as Record<string, z.ZodType>).map(([name, field]) => {
    const isHidden = field.meta()?.secret === true && config[name] !== undefined;
    return {
      name,
      variable: variableName(name, sources.envNames),
      value: isHidden ? '***' : config[name],
      origin: origins.get(name) ?? 'default',
      meaning: field.meta()?.description ?? '',
    };
  });
}

function readConfig<S extends z.ZodObject>(schema: S, sources: ConfigSources) {
  const { values, problems } = gatherConfig(schema.shape as Record<string, z.ZodType>, sources);
  const given = Object.fromEntries([...values].map(([name, { value }]) => [name, value]));
  const parsed = schema.safeParse(given);
  for (const issue of parsed.error?.issues ?? []) {
    const [setting] = issue.path;
    const origin = values.get(String(setting))?.origin;
    const from = origin === undefined ? '' : ` (from ${origin})`;
    problems.push(`${issue.path.join('.') || 'the settings'}: ${issue.message}${from}`);
  }
  if (!parsed.success || problems.length > 0) throw badConfig(problems);
  const origins = new Map([...values].map(([name, { origin }]) => [name, origin]));
  return { config: parsed.data as z.output<S>, origins };
}

function badConfig(problems: readonly string[]): OperatingError {
  const list = problems.map((problem) => `\n  - ${problem}`).join('');
  const count = problems.length === 1 ? 'One setting is wrong' : `${problems.length} settings are wrong`;
  return new OperatingError(`${count}:${list}\n`, {
    code: 'bad-config',
    remedy: 'Correct them and start again.',
  });
}

/** Settings as a person reads them: value, origin, variable and meaning. */
export function settingsText(settings: readonly ExplainedSetting[]): string {
  return settings
    .map(({ name, variable, value, origin, meaning }) => {
      const shown = value === undefined ? '(not set)' : typeof value === 'string' ? value : JSON.stringify(value);
      return `${name} = ${shown}\n    from ${origin}; variable ${variable}\n    ${meaning}\n`;
    })
    .join('');
}

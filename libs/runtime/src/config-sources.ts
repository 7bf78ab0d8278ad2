/** Where the settings of a service are written, and what each place says. */

import { readFileSync } from 'node:fs';
import type { z } from 'zod';
import { nearestName } from './nearest-name.js';

export interface ConfigSources {
  readonly env: Readonly<Record<string, string | undefined>>;
  /** Path of a JSON file. */
  readonly file?: string | undefined;
  /** Command-line flags by setting; undefined ones were not given. */
  readonly flags?: Readonly<Record<string, unknown>>;
  /** Variables whose names do not follow from the setting, such as `{ databaseUrl: 'DATABASE_URL' }`. */
  readonly envNames?: Readonly<Record<string, string>>;
  /** Variables of the prefix that belong to other programs and are left alone. */
  readonly otherEnv?: readonly string[];
}

interface GivenValue {
  readonly value: unknown;
  /** Where it came from, in words: "file warm.json", "environment WARMBRICK_PORT", "flag --port". */
  readonly origin: string;
}

export interface Gathered {
  readonly values: Map<string, GivenValue>;
  readonly problems: string[];
}

const prefix = 'WARMBRICK_';

/** Largest configuration file that is read, in bytes. */
const maxFileBytes = 1_000_000;

/** What file, environment and flags say, the later place winning; unknown names are problems. */
export function gatherConfig(shape: Readonly<Record<string, z.ZodType>>, sources: ConfigSources): Gathered {
  const gathered: Gathered = { values: new Map(), problems: [] };
  const settings = Object.keys(shape);
  addFile(gathered, settings, sources.file);
  addEnvironment(gathered, shape, sources);
  for (const [name, value] of Object.entries(sources.flags ?? {})) {
    if (value === undefined) continue;
    const given = {
      value: typeof value === 'string' ? fromText(shape[name], value) : value,
      origin: `flag ${flagName(name)}`,
    };
    if (settings.includes(name)) gathered.values.set(name, given);
    else gathered.problems.push(unknown(given.origin, nearestName(name, settings), flagName));
  }
  return gathered;
}

/** The variable of a setting: `dataDir` is `WARMBRICK_DATA_DIR`. */
export function variableName(setting: string, names: Readonly<Record<string, string>> = {}): string {
  return names[setting] ?? prefix + setting.replaceAll(/(?<=[a-z0-9])[A-Z]/g, '_$&').toUpperCase();
}

function addFile({ values, problems }: Gathered, settings: readonly string[], path: string | undefined): void {
  if (path === undefined) return;
  let content: unknown;
  try {
    const text = readFileSync(path, 'utf8');
    if (text.length > maxFileBytes) throw new Error(`it is larger than ${maxFileBytes} bytes`);
    content = JSON.parse(text);
    if (typeof content !== 'object' || content === null || Array.isArray(content))
      throw new Error('it holds no object');
  } catch (error) {
    problems.push(`file ${path} cannot be read as JSON: ${(error as Error).message}`);
    return;
  }
  for (const [name, value] of Object.entries(content)) {
    if (settings.includes(name)) values.set(name, { value, origin: `file ${path}` });
    else problems.push(unknown(`${name} in file ${path}`, nearestName(name, settings), String));
  }
}

function addEnvironment(
  { values, problems }: Gathered,
  shape: Readonly<Record<string, z.ZodType>>,
  { env, envNames, otherEnv = [] }: ConfigSources,
): void {
  const settingByVariable = new Map(Object.keys(shape).map((setting) => [variableName(setting, envNames), setting]));
  for (const [variable, text] of Object.entries(env)) {
    // An empty variable is how compose files and shells say "not set".
    if (text === undefined || text === '') continue;
    const setting = settingByVariable.get(variable);
    const origin = `environment ${variable}`;
    if (setting !== undefined) values.set(setting, { value: fromText(shape[setting], text), origin });
    else if (variable.startsWith(prefix) && !otherEnv.includes(variable)) {
      problems.push(unknown(origin, nearestVariable(variable, [...settingByVariable.keys()]), String));
    }
  }
}

/** The common prefix would make every variable look near to every other. */
function nearestVariable(written: string, variables: readonly string[]): string | null {
  const fullByShort = new Map(variables.map((name) => [name.replace(prefix, ''), name]));
  const nearest = nearestName(written.replace(prefix, ''), [...fullByShort.keys()]);
  return nearest === null ? null : (fullByShort.get(nearest) ?? null);
}

function unknown(written: string, nearest: string | null, show: (name: string) => string): string {
  return `${written} is not a setting${nearest === null ? '' : `; did you mean ${show(nearest)}?`}`;
}

function flagName(setting: string): string {
  return `--${setting.replaceAll(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
}

/** Text as the kind of value the setting has; what does not read as one stays text, for the schema to refuse. */
function fromText(schema: z.ZodType | undefined, text: string): unknown {
  const kind = schema === undefined ? 'string' : innermostKind(schema);
  if (kind === 'number' && text.trim() !== '' && Number.isFinite(Number(text))) return Number(text);
  if (kind === 'boolean' && /^(true|1|yes|on)$/i.test(text)) return true;
  if (kind === 'boolean' && /^(false|0|no|off)$/i.test(text)) return false;
  if (kind === 'array') return text.split(',').map((part) => part.trim());
  return text;
}

/** The type under defaults, optionals and the like. */
function innermostKind(schema: z.ZodType): string {
  let def = schema.def as { type: string; innerType?: z.ZodType; in?: z.ZodType };
  for (let inner = def.innerType ?? def.in; inner !== undefined; inner = def.innerType ?? def.in) {
    def = inner.def as typeof def;
  }
  return def.type;
}

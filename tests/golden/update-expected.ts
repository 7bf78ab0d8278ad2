/**
 * Writes the expected.json of cases anew and prints what changed: `npm run golden:update`, or with folder names for some.
 *
 * With `--check` nothing is written, and a difference gives exit code 1.
 */

import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { readCaseFile } from './case-file.js';
import { differences } from './compare-findings.js';
import { replayCase } from './replay-case.js';

const root = fileURLToPath(new URL('../../replay-data/', import.meta.url));
const isCheck = process.argv.includes('--check');
const named = process.argv.slice(2).filter((argument) => !argument.startsWith('--'));
/** Changed lines printed for a case; the rest is counted. */
const linesShown = 60;

const folders = readdirSync(root, { withFileTypes: true })
  .filter((entry) => entry.isDirectory() && (named.length === 0 || named.includes(entry.name)))
  .map((entry) => entry.name);
for (const name of named) if (!folders.includes(name)) complain(`${name}: no such case in replay-data`);
for (const name of folders) await update(name);

async function update(name: string): Promise<void> {
  const folder = `${root}${name}/`;
  const path = `${folder}expected.json`;
  const caseFile = readCaseFile(`${folder}case.yaml`);
  const { document } = await replayCase(folder, caseFile.recordings, caseFile);
  const after = `${JSON.stringify(document, null, 1)}\n`;
  const before = existsSync(path) ? readFileSync(path, 'utf8') : '';
  const contradictions = differences(caseFile, document);
  for (const line of contradictions) complain(`${name}: contradicts case.yaml: ${line}`);
  if (contradictions.length > 0) return;
  if (before === after) {
    process.stdout.write(`${name}: unchanged\n`);
    return;
  }
  process.stdout.write(`${name}: ${before === '' ? 'new' : `changed\n${describeChange(before, after)}`}\n`);
  if (isCheck) process.exitCode = 1;
  else writeFileSync(path, after);
}

/** Lines by path, so that a line in the middle does not move all that follow. */
function describeChange(before: string, after: string): string {
  const old = flatten(JSON.parse(before));
  const fresh = flatten(JSON.parse(after));
  const lines: string[] = [];
  for (const [path, value] of old) {
    if (!fresh.has(path)) lines.push(`  - ${path}: ${value}`);
    else if (fresh.get(path) !== value) lines.push(`  ~ ${path}: ${value} -> ${fresh.get(path)}`);
  }
  for (const [path, value] of fresh) if (!old.has(path)) lines.push(`  + ${path}: ${value}`);
  const more = lines.length > linesShown ? [`  and ${lines.length - linesShown} more`] : [];
  return lines.length === 0 ? '  only the layout' : [...lines.slice(0, linesShown), ...more].join('\n');
}

function flatten(value: unknown, path = '', into = new Map<string, string>()): Map<string, string> {
  if (typeof value !== 'object' || value === null) return into.set(path, JSON.stringify(value));
  for (const [key, inner] of Object.entries(value)) {
    // Machines and findings are known by name, not by their place in the list.
    const { id, machineId } = (inner ?? {}) as { id?: string; machineId?: string };
    flatten(inner, `${path}/${id ?? machineId ?? key}`, into);
  }
  return into;
}

function complain(line: string): void {
  process.stderr.write(`${line}\n`);
  process.exitCode = 1;
}

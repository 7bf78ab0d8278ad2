/** The how-to of the README, run as it stands there. */

import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type ApiWorld, startApiWorld } from '../alerts-api/api-world.js';
import { run } from '../workbench/run.js';

const readme = readFileSync(fileURLToPath(new URL('../../libs/tuning/README.md', import.meta.url)), 'utf8');
const commands = (/```sh\n([\s\S]*?)```/.exec(readme)?.[1] ?? '').trim().split('\n');

let folder: string;
let world: ApiWorld;
let url: string;
const folderBefore = process.cwd();
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-how-to-'));
  world = await startApiWorld();
  url = await world.app.listen({ port: 0, host: '127.0.0.1' });
  process.env.WARMBRICK_API_KEY = world.keys.engineer;
});
afterAll(async () => {
  delete process.env.WARMBRICK_API_KEY;
  await world.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** A command line as words, with names of files put into the test's folder. */
function wordsOf(line: string): { args: string[]; into: string | null } {
  const words = [...line.matchAll(/"([^"]*)"|(\S+)/g)].map((match) => match[1] ?? match[2] ?? '');
  const placed = words.map((word) =>
    /^[\w-]+\.(parquet|ndjson|json|csv|html)$/.test(word) ? join(folder, word) : word,
  );
  const at = placed.indexOf('>');
  const args = (at < 0 ? placed : placed.slice(0, at)).slice(1);
  return { args, into: at < 0 ? null : (placed[at + 1] as string) };
}

/** What the reader brings: labels of people, here those of the simulator from half an hour on, and a first set. */
function bringLabels(): void {
  const truth = readFileSync(join(folder, 'truth.ndjson'), 'utf8').trim().split('\n');
  const rows = truth
    .map(
      (line) =>
        JSON.parse(line) as {
          machineId: string;
          kind: string;
          startedAt: string;
          endedAt: string | null;
          durationS: number;
        },
    )
    .filter(({ kind, durationS, endedAt }) => kind === 'idle-streak' && durationS >= 1800 && endedAt !== null)
    .map(({ machineId, startedAt, endedAt }) => `${machineId},idle-streak,${startedAt},${endedAt}`);
  writeFileSync(join(folder, 'labels.csv'), `machineId,kind,start,end\n${rows.join('\n')}\n`);
  writeFileSync(join(folder, 'shorter.json'), '{"version": "shorter-1", "values": {"idleLimitS": 1800}}');
}

describe('the how-to of the README', () => {
  it('leads from a recording to a promoted set and back', async () => {
    expect(commands.length).toBe(8);
    const outs: string[] = [];
    for (const line of commands) {
      const { args, into } = wordsOf(line);
      const isService = args[0] === 'promote' || (args[0] === 'sets' && !args.includes('--known'));
      const isTune = args[0] === 'tune' ? ['--trials', '30', '--jobs', '1'] : [];
      const quiet = ['promote', 'sets'].includes(args[0] as string) ? [] : ['--quiet'];
      const { exitCode, out, err } = await run(...args, ...(isService ? ['--url', url] : quiet), ...isTune);
      expect(err, line).toBe('');
      expect(exitCode, line).toBe(args[0] === 'compare' ? 1 : 0);
      if (into !== null) writeFileSync(into, out);
      if (args[0] === 'simulate') bringLabels();
      outs.push(out);
    }
    const [, known, compared, tuned, , promoted, listed, rolledBack] = outs;
    expect(known).toContain('idleLimitS');
    expect(compared).toMatch(/appears +idle-streak/);
    expect(tuned).toContain('Better: on machines that it was not fitted to it costs less');
    expect(promoted).toMatch(/^1: tuned-[0-9a-f]{8} for class forwarder/);
    expect(listed).toContain('idle over half an hour is what the site minds');
    expect(rolledBack).toMatch(/^2: no set of its own for class forwarder/);
    expect(process.cwd()).toBe(folderBefore);
  }, 240_000);
});

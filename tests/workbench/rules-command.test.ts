import { mkdtempSync, readdirSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { readRule } from '@warmbrick/alerting';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { run } from './run.js';

/** The recording of a case, whatever its format. */
const recordingOf = (name: string) => {
  const folder = fileURLToPath(new URL(`../../replay-data/${name}`, import.meta.url));
  return join(folder, readdirSync(folder).find((file) => file.startsWith('recording.')) ?? '');
};
const fileOf = (text: string) => {
  const path = join(mkdtempSync(join(tmpdir(), 'warmbrick-rule-')), 'rule.yaml');
  writeFileSync(path, text);
  return path;
};

describe('warmbrick rules', () => {
  it('lists the built-in rules, and explains one as a file that is a rule', async () => {
    const listed = await run('rules', 'list');
    expect(listed.exitCode).toBe(0);
    expect(listed.out).toMatch(/^idle-over-an-hour +Idle for over an hour: finding idle-streak$/m);
    const { out } = await run('rules', 'explain', 'soot-risk-high');
    expect(readRule(parse(out)).rule?.when).toEqual({ figure: 'score', atLeast: 60, clearBelow: 50 });
  });

  it('tries a rule on recordings: the long idles open it as often as they are found', async () => {
    const recording = recordingOf('long-idles');
    const replayed = JSON.parse((await run('replay', recording, '--json', '--quiet')).out);
    const idles = replayed.machines.flatMap(({ findings }: { findings: { kind: string; startedAt: string }[] }) =>
      findings.filter(({ kind }) => kind === 'idle-streak'),
    );
    expect(idles.length).toBeGreaterThan(0);
    const { exitCode, out } = await run('rules', 'try', 'idle-over-an-hour', recording, '--json', '--quiet');
    const tried = JSON.parse(out);
    expect(exitCode).toBe(0);
    expect(tried.count).toBe(idles.length);
    const starts = tried.openings.map(({ startedMs }: { startedMs: number }) => new Date(startedMs).toISOString());
    expect(starts).toEqual(idles.map(({ startedAt }: { startedAt: string }) => startedAt).sort());
    const text = await run('rules', 'try', 'idle-over-an-hour', recording, '--quiet');
    expect(text.out).toMatch(/^"idle-over-an-hour" would have opened (once|\d+ times) and told people at once/);
  });

  it('opens nothing on a good shift', async () => {
    const { out } = await run('rules', 'try', 'idle-over-an-hour', recordingOf('good-shift'), '--json', '--quiet');
    expect(JSON.parse(out).count).toBe(0);
  });

  it('tries a rule of the user over a figure', async () => {
    const path = fileOf('id: early\ntitle: Early\nwhen: { figure: longestIdleS, atLeast: 1200, clearBelow: 600 }\n');
    const { out } = await run('rules', 'try', path, recordingOf('long-idles'), '--json', '--quiet');
    const tried = JSON.parse(out);
    expect(tried.count).toBeGreaterThan(0);
    expect(tried.openings[0].text).toContain('longest idle at');
  });

  it('says what is wrong with a rule, where, and what to write', async () => {
    const { exitCode, err } = await run(
      ...['rules', 'try', fileOf('id: a\ntitle: A\nwhen: { finding: idle-streek }\nhold: 3\n')],
      recordingOf('good-shift'),
    );
    expect(exitCode).toBe(2);
    expect(err).toContain('when.finding: "idle-streek" is no kind of finding; did you mean "idle-streak"?');
    expect(err).toContain('the rule: unknown field "hold"');
    expect((await run('rules', 'explain', 'no-such-rule')).err).toContain('no built-in rule is called that');
    expect((await run('rules', 'explain', fileOf('a: [1'))).err).toContain('not YAML or JSON');
  });
});

import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { nearestName, OperatingError } from '@warmbrick/runtime';
import { describe, expect, it } from 'vitest';

describe('the logger', () => {
  it('writes one line of JSON a message to stderr, nothing to stdout, and keeps to its level', () => {
    const program = `import { createLogger } from '@warmbrick/runtime';
      const logger = createLogger({ name: 'probe', level: 'warn' });
      logger.info('not shown');
      logger.warn({ machines: 3 }, 'shown');`;
    const cwd = fileURLToPath(new URL('../..', import.meta.url));
    const args = ['--import', 'tsx', '--conditions=source', '--input-type=module', '-e', program];
    const { stdout, stderr, status } = spawnSync(process.execPath, args, { cwd, encoding: 'utf8' });
    expect(stdout).toBe('');
    expect(status, stderr).toBe(0);
    const lines = stderr.trim().split('\n');
    expect(lines).toHaveLength(1);
    const line = JSON.parse(lines[0] as string);
    expect(line).toMatchObject({ name: 'probe', machines: 3, msg: 'shown', pid: expect.any(Number) });
    // Source: RFC 3339, 5.6.
    expect(line.time).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/);
  });
});

describe('an operating error', () => {
  it('reads as where, what, and what to do', () => {
    const error = new OperatingError('There is no such file.', {
      code: 'x',
      where: 'a.csv',
      remedy: 'Check the path.',
    });
    expect(error.toUserMessage()).toBe('a.csv: There is no such file. Check the path.');
    expect(new OperatingError('Broken.', { code: 'x' }).toUserMessage()).toBe('Broken.');
  });
});

describe('the nearest name', () => {
  const names = ['dataDir', 'port', 'exhaustTempC'];
  it.each([
    ['datadir', 'dataDir'],
    ['DATA_DIR', 'dataDir'],
    ['prt', 'port'],
    ['exhuastTempC', 'exhaustTempC'],
    ['completely different', null],
    ['', null],
  ])('to "%s" is %s', (written, expected) => {
    expect(nearestName(written, names)).toBe(expected);
  });
});

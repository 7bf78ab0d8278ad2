import { OperatingError } from '@warmbrick/runtime';
// Past the index: a process does it, and a test of the process would take minutes.
import { openStorePatiently } from '@warmbrick/store';
import { describe, expect, it } from 'vitest';

const down = () => new OperatingError('nobody listens', { code: 'store-unavailable', isRetriable: true });

function failing(times: number, error: () => Error = down) {
  const warned: string[] = [];
  let calls = 0;
  const open = async () => {
    calls++;
    if (calls <= times) throw error();
    return 'open';
  };
  const logger = { warn: (fields: object, message: string) => warned.push(`${message} ${JSON.stringify(fields)}`) };
  return { open, logger, warned, calls: () => calls };
}

describe('a store that is down at the start', () => {
  it('is waited for, with a line in the log each time', async () => {
    const { open, logger, warned } = failing(2);
    expect(await openStorePatiently(open, { logger, waitMs: 60_000 })).toBe('open');
    expect(warned).toHaveLength(2);
    expect(warned[0]).toContain('the database does not answer');
    expect(warned[0]).toContain('"givenUpAfterS":60');
  });

  it('is given up after the time, with a message that says what to do', async () => {
    const { open, logger, calls } = failing(1000);
    const given = openStorePatiently(open, { logger, waitMs: 400 });
    await expect(given).rejects.toMatchObject({ code: 'store-unavailable', message: /did not answer for \d+ s/ });
    await expect(given).rejects.toMatchObject({ remedy: expect.stringContaining('DATABASE_URL') });
    expect(calls()).toBeLessThan(5);
  });

  it('is not waited for when waiting does not mend it, or when the process is to stop', async () => {
    const refused = () => new OperatingError('wrong password', { code: 'store-refused' });
    const { open, logger, calls } = failing(1000, refused);
    await expect(openStorePatiently(open, { logger, waitMs: 60_000 })).rejects.toMatchObject({ code: 'store-refused' });
    expect(calls()).toBe(1);
    const stopping = new AbortController();
    const { open: other, logger: otherLogger } = failing(1000);
    const waiting = openStorePatiently(other, { logger: otherLogger, waitMs: 60_000, signal: stopping.signal });
    setTimeout(() => stopping.abort(), 50);
    await expect(waiting).rejects.toMatchObject({ code: 'store-unavailable' });
  });
});

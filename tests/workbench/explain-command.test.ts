import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { run } from './run.js';

const recording = fileURLToPath(new URL('../../replay-data/light-duty-below-window/recording.csv', import.meta.url));

describe('warmbrick explain', () => {
  it('says load, outlook, parts, confidence and advice from recordings', async () => {
    const machineId = JSON.parse((await run('replay', recording, '--json')).out).machines[0].machineId;
    const { exitCode, out } = await run('explain', machineId, recording);
    expect(exitCode).toBe(0);
    for (const words of [
      'soot risk',
      'confidence',
      'soot load',
      'cold running',
      'soot in the filter',
      'urea deposits',
    ]) {
      expect(out).toContain(words);
    }
    const parts = [...out.matchAll(/^ +([\d.]+) {2}[a-z]/gm)].map((match) => Number(match[1]));
    const value = Number(/soot risk ([\d.]+) of 100/.exec(out)?.[1]);
    expect(parts).toHaveLength(5);
    expect(parts.reduce((sum, part) => sum + part, 0)).toBeCloseTo(value, 6);
  });

  it('names the machines that there are when asked for another', async () => {
    const { exitCode, err } = await run('explain', 'nobody', recording);
    expect(exitCode).toBe(2);
    expect(err).toMatch(/there is no machine "nobody"; there are: \w+/);
  });

  it('says what to do when no service answers, or an unknown one', async () => {
    expect((await run('explain', 'loader-1', '--url', 'http://127.0.0.1:9')).err).toContain(
      'the service does not answer',
    );
    const server = createServer((_, response) => response.end('{}')).listen(0, '127.0.0.1');
    await once(server, 'listening');
    const { port } = server.address() as AddressInfo;
    const { err, exitCode } = await run('explain', 'loader-1', '--url', `http://127.0.0.1:${port}`);
    server.close();
    expect(exitCode).toBe(2);
    expect(err).toContain('not one of ours');
  });
});

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
      'NO2 for the burn-off',
      'urea deposits',
    ]) {
      expect(out).toContain(words);
    }
    const parts = [...out.matchAll(/^ +([\d.]+) {2}[a-z]/gm)].map((match) => Number(match[1]));
    const value = Number(/soot risk ([\d.]+) of 100/.exec(out)?.[1]);
    expect(parts).toHaveLength(5);
    expect(parts.reduce((sum, part) => sum + part, 0)).toBeCloseTo(value, 6);
  });

  it('says from a service what stands out beside machines alike, the DEF tank, and what is not believed', async () => {
    const machineId = 'loader-1';
    const detail = JSON.parse((await run('replay', recording, '--json')).out).machines[0];
    const { findings: _findings, unusable: _unusable, faultCodes: _codes, ...known } = detail;
    const day = { startedAt: '2026-03-02T06:00:00.000Z', bucketS: 900 };
    const columns = ['runningS', 'idleS', 'belowReleaseS', 'belowS', 'inS', 'aboveS', 'unobservedS'];
    const answer = {
      ...known,
      machineId,
      name: 'Loader 1',
      machineClass: 'wheel loader',
      site: null,
      timeZone: 'UTC',
      lastSampleAt: known.observed.to,
      day: { ...day, ...Object.fromEntries(columns.map((name) => [name, []])) },
      findingCounts: {},
      profile: {},
      window: { lowC: 350, highC: 450 },
      thresholdSet: 'x',
      suspectChannels: ['coolantTempC'],
      def: {
        levelPct: 40,
        tankL: 40,
        limitPct: 10,
        learnedHours: 9,
        useLPerH: 1,
        spreadLPerH: 0.2,
        usedBy: 'dosing',
        hoursToLimit: 12,
        hoursToLimitLow: 10.4,
        hoursToLimitHigh: 14.2,
        tankTempC: -3,
        ambientTempC: -12,
        overnight: 'fuller-than-needed',
        marginK: 3,
      },
    };
    const none = { groupMedian: null, lowerQuartile: null, upperQuartile: null, percentile: null };
    const comparison = {
      machineId,
      group: 'wheel loader, light work',
      from: known.observed.from,
      to: known.observed.to,
      peers: 8,
      hasMorePeers: false,
      figures: [
        {
          name: 'idle-share',
          value: 0.62,
          groupSize: 9,
          groupMedian: 0.2,
          lowerQuartile: 0.15,
          upperQuartile: 0.25,
          percentile: 94,
          standing: 'high',
          change: { since: '2026-02-20T00:00:00.000Z', meanBefore: 0.2, meanAfter: 0.6 },
        },
        { name: 'fuel-l-per-h', value: null, groupSize: 0, ...none, standing: 'unknown', change: null },
      ],
    };
    const server = createServer((request, response) =>
      response.end(JSON.stringify(request.url?.endsWith('/comparison') === true ? comparison : answer)),
    ).listen(0, '127.0.0.1');
    await once(server, 'listening');
    const { port } = server.address() as AddressInfo;
    const { out, err } = await run('explain', machineId, '--url', `http://127.0.0.1:${port}`);
    server.close();
    expect(err).toBe('');
    expect(out).toContain('DEF: 40 % of 40 L, down to 10 % in about 12 engine hours (10 to 15 in nine of ten cases)');
    expect(out).toContain('about a quarter in the tank is enough');
    expect(out).toContain('not believed at present: coolant temperature');
    expect(out).toContain('running time at idle 62 %, which is high: the middle half of 9 has 15 % to 25 %');
    expect(out).toContain('running time at idle went from 20 % to 60 % around 2026-02-20');
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

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { faultsBodySchema, replayDocumentSchema, telemetryBodySchema } from '@warmbrick/contracts';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { run } from './run.js';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-simulate-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const path = (name: string) => join(folder, name);
const lines = (name: string) => readFileSync(path(name), 'utf8').trim().split('\n');
const small = ['--machines', '3', '--days', '0.25', '--quiet'];
/** What goes to a service would else be of the hours before now, when nobody may work. */
const atWork = ['--start', '2026-03-02T06:00:00+01:00'];

describe('warmbrick simulate into files', () => {
  it('writes samples, fault codes, truth and profiles, the same for the same seed', async () => {
    const files = [
      '--faults',
      path('faults.csv'),
      '--truth',
      path('truth.ndjson'),
      '--profiles',
      path('profiles.json'),
    ];
    const { exitCode, out, err } = await run('simulate', ...small, '--out', path('a.csv'), ...files);
    expect({ exitCode, out, err }).toEqual({ exitCode: 0, out: '', err: '' });
    const [header = '', ...rows] = lines('a.csv');
    expect(header.startsWith('machineId,time,engineSpeedRpm,')).toBe(true);
    expect(new Set(rows.map((row) => row.split(',')[0])).size).toBe(3);
    expect(lines('faults.csv')[0]).toBe(
      'machineId,time,sourceAddress,kind,spn,fmi,occurrenceCount,conversionMethod,lamps',
    );
    const truth = lines('truth.ndjson').map((line) => JSON.parse(line));
    expect(truth.length).toBeGreaterThan(3);
    for (const event of truth) expect(Date.parse(event.startedAt)).toBeGreaterThan(0);
    await run('simulate', ...small, '--out', path('b.csv'));
    expect(readFileSync(path('b.csv')).equals(readFileSync(path('a.csv')))).toBe(true);
    await run('simulate', ...small, '--seed', '2', '--out', path('c.csv'));
    expect(readFileSync(path('c.csv')).equals(readFileSync(path('a.csv')))).toBe(false);
  });

  it('writes what replay reads: the runs of the truth are the runs that are found', async () => {
    const sound = [...small, '--no-mishaps', '--habit', 'careful', '--seed', '5'];
    const files = [
      '--truth',
      path('t.ndjson'),
      '--profiles',
      path('p.json'),
      '--to',
      'parquet',
      '--out',
      path('d.parquet'),
    ];
    await run('simulate', ...sound, ...files);
    const { exitCode, out } = await run('replay', path('d.parquet'), '--profile', path('p.json'), '--json', '--quiet');
    expect(exitCode).toBe(0);
    const document = replayDocumentSchema.parse(JSON.parse(out));
    const ended = lines('t.ndjson')
      .map((line) => JSON.parse(line))
      .filter(({ kind, endedAt }) => kind === 'engine-run' && endedAt !== null);
    expect(ended.length).toBeGreaterThan(0);
    for (const { machineId, startedAt } of ended) {
      const findings = document.machines.find((machine) => machine.machineId === machineId)?.findings ?? [];
      const starts = findings
        .filter(({ kind }) => kind === 'engine-run')
        .map((finding) => Date.parse(finding.startedAt));
      expect(Math.min(...starts.map((at) => Math.abs(at - Date.parse(startedAt))))).toBeLessThan(10_000);
    }
  });

  it('runs a prescribed cycle', async () => {
    const { exitCode } = await run(
      ...['simulate', '--machines', '1', '--days', '0.1', '--cycle', 'ramped-d2', '--no-mishaps', '--quiet'],
      ...['--out', path('cycle.ndjson'), '--to', 'ndjson'],
    );
    expect(exitCode).toBe(0);
    const speeds = lines('cycle.ndjson').map(
      (line) => JSON.parse(line).values?.engineSpeedRpm ?? JSON.parse(line).engineSpeedRpm,
    );
    expect(Math.max(...speeds)).toBeGreaterThan(1850);
  });

  it.each([
    { args: ['--machines', '0'], says: 'whole number from 1' },
    { args: ['--machines', '2.5'], says: 'whole number' },
    { args: ['--days', 'long'], says: 'number from 0.01' },
    { args: ['--habit', 'lazy'], says: 'Allowed choices' },
    { args: ['--start', 'tomorrow'], says: 'Expected a time' },
    { args: ['--url', 'localhost:8080'], says: '/v1/telemetry' },
    { args: ['--url', 'http://localhost/v1/telemetry', '--truth', 'x'], says: 'cannot be used' },
  ])('refuses $args with exit code 2', async ({ args, says }) => {
    const { exitCode, err } = await run('simulate', ...args);
    expect(exitCode).toBe(2);
    expect(err).toContain(says);
  });

  it('says so when no machine was at work', async () => {
    const night = ['--machines', '1', '--days', '0.05', '--start', '2026-03-02T00:30:00+01:00', '--quiet'];
    const { exitCode, err } = await run('simulate', ...night, '--out', path('night.csv'));
    expect(exitCode).toBe(0);
    expect(err).toContain('no machine was at work');
  });

  it('says where it cannot write', async () => {
    const { exitCode, err } = await run('simulate', ...small, '--out', path('absent/x.csv'));
    expect(exitCode).toBe(2);
    expect(err).toContain('absent/x.csv');
  });
});

describe('warmbrick simulate to a service', () => {
  const servers: Server[] = [];
  afterEach(async () => {
    for (const server of servers.splice(0)) await new Promise((resolve) => server.close(resolve));
  });

  async function serve(answer: (path: string, body: string, response: ServerResponse) => void): Promise<string> {
    const server = createServer((request: IncomingMessage, response) => {
      const parts: Buffer[] = [];
      request.on('data', (part: Buffer) => parts.push(part));
      request.on('end', () => answer(request.url ?? '', Buffer.concat(parts).toString('utf8'), response));
    });
    servers.push(server);
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    return `http://127.0.0.1:${(server.address() as AddressInfo).port}/v1/telemetry`;
  }

  const receipt = (accepted: number, rejected = 0) => {
    const rejects = rejected > 0 ? [{ reason: 'bad-time', where: 'message 1', detail: 'too late' }] : [];
    const droppedValues = { unknownChannels: 0, notNumbers: 0, implausible: 0 };
    return JSON.stringify({ accepted, rejected, rejects, droppedValues });
  };

  it('posts packets that keep the contract, every sample once and in order for each machine', async () => {
    const times = new Map<string, number[]>();
    let reports = 0;
    const url = await serve((where, body, response) => {
      if (where === '/v1/faults') {
        reports += [faultsBodySchema.parse(JSON.parse(body))].flat().length;
        response.end(receipt(1));
        return;
      }
      let samples = 0;
      for (const message of [telemetryBodySchema.parse(JSON.parse(body))].flat()) {
        if (!('times' in message)) throw new Error('not a packet');
        samples += message.times.length;
        times.set(message.machineId, [...(times.get(message.machineId) ?? []), ...message.times.map(Number)]);
      }
      response.end(receipt(samples));
    });
    const start = ['--start', '2026-03-02T00:00:00+01:00'];
    const { exitCode, err } = await run('simulate', '--machines', '12', '--days', '0.4', '--url', url, ...start);
    expect(exitCode).toBe(0);
    await run('simulate', '--machines', '12', '--days', '0.4', '--quiet', ...start, '--out', path('sent.csv'));
    const total = [...times.values()].reduce((sum, list) => sum + list.length, 0);
    expect(total).toBe(lines('sent.csv').length - 1);
    expect(err).toContain(`${total.toLocaleString('en')} samples`);
    for (const list of times.values()) expect(new Set(list).size).toBe(list.length);
    expect(reports).toBeGreaterThan(0);
  });

  it('tries again when the service is busy', async () => {
    let calls = 0;
    const url = await serve((_where, _body, response) => {
      calls++;
      response.statusCode = calls <= 2 ? 503 : 200;
      response.end(calls <= 2 ? '{}' : receipt(1));
    });
    const { exitCode } = await run('simulate', ...small, ...atWork, '--machines', '1', '--url', url);
    expect(exitCode).toBe(0);
    expect(calls).toBeGreaterThan(2);
  });

  it('says what the service said when it refuses, and that is exit code 2', async () => {
    const url = await serve((_where, _body, response) => {
      response.statusCode = 415;
      response.end('{"title":"not this"}');
    });
    const { exitCode, err } = await run('simulate', ...small, ...atWork, '--url', url);
    expect(exitCode).toBe(2);
    expect(err).toContain('415');
    expect(err).toContain('not this');
  });

  it('counts what was not taken, and that is exit code 1', async () => {
    const url = await serve((_where, _body, response) => response.end(receipt(0, 1)));
    const { exitCode, err } = await run('simulate', ...small, ...atWork, '--url', url);
    expect(exitCode).toBe(1);
    expect(err).toContain('message 1: bad-time: too late');
  });

  it('keeps to the speed', async () => {
    const url = await serve((_where, _body, response) => response.end(receipt(1)));
    const before = performance.now();
    const args = ['--machines', '1', '--days', '0.01', '--speed', '600', '--quiet', '--url', url];
    expect((await run('simulate', ...args)).exitCode).toBe(0);
    // 864 s at 600 times the speed.
    expect(performance.now() - before).toBeGreaterThan(1200);
    expect(performance.now() - before).toBeLessThan(10_000);
  });
});

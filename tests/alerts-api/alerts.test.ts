import {
  alertDetailSchema,
  alertListSchema,
  alertMessageSchema,
  problemSchema,
  ruleListSchema,
  ruleTriedSchema,
  topics,
} from '@warmbrick/contracts';
import { machineProfileSchema } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, summaryOf } from '../store/blocks.js';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { startTestApp, type TestApp } from './test-app.js';

const hourMs = 3_600_000;
const machineId = 'Ladegerät 7/a';
let server: TestServer;
let store: Store;
let app: TestApp['app'];
let events: TestApp['events'];
let startedMs: number;

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  startedMs = Math.floor(Date.now() / 1000) * 1000 - hourMs;
  const first = await startTestApp();
  events = first.events;
  await first.app.close();
  store = await server.openOn(await server.freshDatabase(), {
    alerting: { now: () => Date.now(), outbox: true, onEvents: (it) => events.publishAlerts(it) },
  });
  ({ app } = await startTestApp({ store, events }));
  await store.putMachine(machineId, machineProfileSchema.parse({ site: 'Skarnfell quarry', name: 'Loader 7' }));
  return () => app.close();
});

const send = async (method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, body?: object) => {
  const response = await app.inject({ method, url: `/v1${url}`, ...(body === undefined ? {} : { payload: body }) });
  return {
    status: response.statusCode,
    body: response.body === '' ? null : response.json(),
    headers: response.headers,
  };
};
const idle = (more = {}) => findingAt(machineId, startedMs, { values: { durationS: 3600, fuelL: 3.1 }, ...more });
const commitIdle = (more = {}) =>
  store.commit([changeOf(machineId, { summary: summaryOf(machineId, Date.now(), 70), findings: [idle(more)] })]);
const path = () => `/alerts/${encodeURIComponent(`${machineId}~idle-over-an-hour~${startedMs}`)}`;

describe('alerts', () => {
  it('are listed with their words, filtered, and shown with every step', async () => {
    await commitIdle();
    const { body, headers } = await send(
      'GET',
      '/alerts?condition=active&severity=warning,severe&site=Skarnfell%20quarry',
    );
    const { items } = alertListSchema.parse(body);
    expect(items).toMatchObject([
      {
        machineId,
        title: 'Idle for over an hour',
        condition: 'active',
        group: { key: 'site/Skarnfell quarry', machineName: 'Loader 7' },
      },
    ]);
    expect(items[0]?.text).toMatch(
      /^Loader 7, Skarnfell quarry: idling for 60 min, 3.1 L of fuel. Since .* \(UTC\)\.$/,
    );
    expect(headers.etag).toBeTruthy();
    expect((await send('GET', '/alerts?condition=clear')).body).toMatchObject({ items: [] });
    const detail = alertDetailSchema.parse((await send('GET', path())).body);
    expect(detail.events.map(({ step, notice }) => [step, notice])).toEqual([['opened', 'page']]);
    expect(alertMessageSchema.parse(detail.events[0]).links.alert).toBe(`/v1${path()}`);
    expect(topics.alerts).toBe('aftertreatment.alerts.v1');
  });

  it('are acknowledged, assigned, shelved and commented on, and the stream tells each step', async () => {
    const heard: string[] = [];
    events.listen(({ name, data }) => {
      if (name === 'alert') heard.push(alertMessageSchema.parse(JSON.parse(data)).step);
    });
    await commitIdle();
    expect((await send('POST', `${path()}/acknowledge`, {})).body).toMatchObject({
      isAcknowledged: true,
      acknowledgedBy: 'this computer',
    });
    expect((await send('POST', `${path()}/assign`, { to: 'workshop' })).body).toMatchObject({ assignee: 'workshop' });
    const shelved = await send('POST', `${path()}/shelve`, { minutes: 60, reason: 'waits for a part' });
    expect(shelved.body).toMatchObject({ shelveReason: 'waits for a part' });
    expect((await send('POST', `${path()}/unshelve`)).body).toMatchObject({ shelvedUntil: null });
    expect((await send('POST', `${path()}/comment`, { note: 'driver called' })).status).toBe(200);
    expect(heard).toEqual(['opened', 'acknowledged', 'assigned', 'shelved', 'unshelved', 'commented']);
  });

  it('refuse what makes no sense, in words', async () => {
    await commitIdle({ endedMs: Date.now() });
    const shelved = await send('POST', `${path()}/shelve`, { minutes: 5, reason: 'why not' });
    expect([shelved.status, problemSchema.parse(shelved.body).code]).toEqual([409, 'action-refused']);
    const unknown = await send('POST', '/alerts/nobody~nothing~1/acknowledge', {});
    expect([unknown.status, problemSchema.parse(unknown.body).code]).toEqual([404, 'alert-not-found']);
    expect((await send('GET', '/alerts?condition=asleep')).status).toBe(400);
    expect((await send('POST', `${path()}/shelve`, { minutes: 5, reason: ' ' })).status).toBe(400);
  });
});

describe('rules', () => {
  const rule = {
    id: 'idle-at-the-gate',
    title: 'Idle at the gate',
    when: { finding: 'idle-streak', where: [{ value: 'durationS', atLeast: 1800 }] },
  };

  it('are those built in and those set, which open alerts when they are live', async () => {
    const before = ruleListSchema.parse((await send('GET', '/rules')).body);
    expect(before.items.every(({ isBuiltIn, isChanged }) => isBuiltIn && !isChanged)).toBe(true);
    expect((await send('POST', '/rules', { rule })).status).toBe(201);
    expect((await send('POST', '/rules', { rule })).body).toMatchObject({ status: 409, code: 'rule-exists' });
    const stale = await send('PUT', '/rules/idle-at-the-gate', { rule, basedOn: 7 });
    expect(stale.body).toMatchObject({ status: 409, code: 'edited-meanwhile' });
    const changed = await send('PUT', '/rules/idle-at-the-gate', { rule: { ...rule, severity: 'notice' }, basedOn: 1 });
    expect(changed.body).toMatchObject({ revision: 2, changedBy: 'this computer', rule: { severity: 'notice' } });
    await commitIdle();
    const { items } = alertListSchema.parse((await send('GET', '/alerts?rule=idle-at-the-gate')).body);
    expect(items).toMatchObject([{ title: 'Idle at the gate', severity: 'notice' }]);
    expect((await send('DELETE', '/rules/idle-at-the-gate')).status).toBe(204);
    expect((await send('DELETE', '/rules/idle-at-the-gate')).status).toBe(404);
  });

  it('that are wrong are refused with all that is wrong', async () => {
    const wrong = { ...rule, when: { finding: 'idle-streek' }, onDelay: 3 };
    const { status, body } = await send('POST', '/rules', { rule: wrong });
    const problem = problemSchema.parse(body);
    expect([status, problem.code]).toEqual([422, 'rule-not-valid']);
    expect(problem.errors?.map(({ message }) => message)).toEqual([
      '"idle-streek" is no kind of finding; did you mean "idle-streak"?',
      'unknown field "onDelay"',
    ]);
  });

  it('are tried on the last week without anything being changed', async () => {
    await commitIdle({ endedMs: Date.now() });
    const days = [1, 3, 5].map((day) => startedMs - day * 24 * hourMs);
    const past = days.map((at) => findingAt(machineId, at, { endedMs: at + hourMs, values: { durationS: 3600 } }));
    await store.commit([changeOf(machineId, { summary: summaryOf(machineId, Date.now(), 70), findings: past })]);
    const tried = ruleTriedSchema.parse((await send('POST', '/rules/try', { rule })).body);
    expect(tried).toMatchObject({ machines: 1, count: 4, pages: 4, remarks: [] });
    expect(ruleTriedSchema.parse((await send('POST', '/rules/try', { rule, days: 2 })).body).count).toBe(2);
    expect((await store.listRules('all')).length).toBe(0);
    const figure = { id: 'x', title: 'x', when: { figure: 'score', atLeast: 60 } };
    expect((await send('POST', '/rules/try', { rule: figure })).body.remarks).toHaveLength(1);
  });
});

describe('maintenance windows', () => {
  it('keep alerts quiet while they last', async () => {
    const added = await send('POST', '/maintenance-windows', { site: 'Skarnfell quarry', reason: 'blasting' });
    expect(added.status).toBe(201);
    await commitIdle();
    const { items } = alertListSchema.parse((await send('GET', '/alerts')).body);
    expect(items).toMatchObject([{ suppression: 'out-of-service', suppressionReason: 'blasting' }]);
    expect((await send('GET', '/maintenance-windows')).body.items).toHaveLength(1);
    expect((await send('DELETE', `/maintenance-windows/${added.body.id}`)).status).toBe(204);
    expect((await send('DELETE', `/maintenance-windows/${added.body.id}`)).status).toBe(404);
    const nobody = await send('POST', '/maintenance-windows', { machineId: 'none', reason: 'x' });
    expect(nobody.body).toMatchObject({ code: 'machine-not-found' });
    const backwards = { from: '2026-01-02T00:00:00Z', to: '2026-01-01T00:00:00Z', reason: 'x' };
    expect((await send('POST', '/maintenance-windows', backwards)).status).toBe(400);
  });
});

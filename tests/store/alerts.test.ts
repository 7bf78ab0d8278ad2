import { type AlertEvent, ruleSchema } from '@warmbrick/alerting';
import { machineProfileSchema } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, findingAt, hourStartMs, summaryOf } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

const hourMs = 3_600_000;
const startMs = hourStartMs;
let server: TestServer;
let url: string;
let store: Store;
let nowMs: number;
let told: AlertEvent[];

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  nowMs = startMs + hourMs;
  told = [];
  store = await openOne();
});

const openOne = () =>
  server.openOn(url, { alerting: { now: () => nowMs, outbox: true, onEvents: (events) => told.push(...events) } });
const linesOf = (events: readonly AlertEvent[]) =>
  events.map(({ sequence, step, notice }) => `${sequence} ${step} ${notice}`);
const takeAlerts = () =>
  store.takeOutbox({ topic: 'aftertreatment.alerts.v1', limit: 100, leaseMs: 60_000, owner: 'test' });

/** A batch that brings the machine to now. */
const commit = (to: Store, machineId: string, more: Parameters<typeof changeOf>[1] = {}) =>
  to.commit([changeOf(machineId, { summary: summaryOf(machineId, nowMs, null), ...more })]);

describe('a commit', () => {
  it('writes alert, step and message with the finding that makes them, once', async () => {
    const finding = findingAt('m', startMs);
    await commit(store, 'm', { findings: [finding] });
    await commit(store, 'm', { findings: [finding] });
    const page = await store.listAlerts({ limit: 10 });
    expect(page.items).toHaveLength(1);
    const found = await store.getAlert(`m~idle-over-an-hour~${startMs}`);
    expect(linesOf(found?.events ?? [])).toEqual(['0 opened page']);
    expect(told).toEqual(found?.events);
    const messages = await takeAlerts();
    expect(messages.map(({ episodeId, revision, payload }) => [episodeId, revision, payload])).toEqual([
      [found?.alert.episodeId, 0, found?.events[0]],
    ]);
    expect(await store.takeOutbox({ limit: 10, leaseMs: 1000, owner: 'test' })).toEqual([]);
  });

  it('that fails leaves no alert behind and tells nobody, and done again tells once', async () => {
    const finding = findingAt('m', startMs);
    const bad = changeOf('z', { findings: [findingAt('z', 0.5)] });
    const good = changeOf('m', { summary: summaryOf('m', nowMs, null), findings: [finding] });
    await expect(store.commit([good, bad])).rejects.toThrow();
    expect((await store.listAlerts({ limit: 10 })).items).toEqual([]);
    expect(told).toEqual([]);
    await store.commit([good]);
    expect(linesOf(told)).toEqual(['0 opened page']);
  });

  it('in another process goes on where the last one stood', async () => {
    const finding = findingAt('m', startMs);
    await commit(store, 'm', { findings: [finding] });
    const other = await openOne();
    nowMs += hourMs;
    await commit(other, 'm', { findings: [{ ...finding, severity: 'severe' }] });
    nowMs += 60_000;
    await commit(store, 'm', { findings: [{ ...finding, severity: 'severe', endedMs: nowMs }] });
    expect(linesOf(told)).toEqual(['0 opened page', '1 worsened page', '2 closed inform']);
  });

  it('corrects a closed alert openly, however long ago it closed, and says nothing when nothing changed', async () => {
    const finding = findingAt('m', startMs, { endedMs: startMs + hourMs });
    nowMs += 60_000;
    await commit(store, 'm', { findings: [finding] });
    nowMs += 30 * 86_400_000;
    await commit(store, 'm', { findings: [finding], rewoundToMs: startMs });
    await commit(store, 'm', { findings: [{ ...finding, endedMs: startMs + 2 * hourMs }], rewoundToMs: startMs });
    await commit(store, 'm', { withdrawnFindingIds: [finding.id], rewoundToMs: startMs });
    expect(told.map(({ sequence, step, corrects }) => [sequence, step, corrects])).toEqual([
      [0, 'opened', null],
      [1, 'corrected', 0],
      [2, 'withdrawn', 1],
    ]);
  });

  it('without alerting makes none', async () => {
    const plain = await server.openOn(url);
    await commit(plain, 'm', { findings: [findingAt('m', startMs)] });
    expect((await store.listAlerts({ limit: 10 })).items).toEqual([]);
  });
});

describe('passing time', () => {
  it('escalates, and makes what is not heard of unknown; two processes at once do it once', async () => {
    const other = await openOne();
    await store.commit(
      ['a', 'b', 'c'].map((id) =>
        changeOf(id, { summary: summaryOf(id, nowMs, null), findings: [findingAt(id, startMs)] }),
      ),
    );
    told.length = 0;
    expect(await store.tickAlerts(nowMs + 60_000, 100)).toBe(0);
    nowMs += 31 * 60_000;
    await Promise.all([0, 1, 2, 3].map((n) => (n % 2 === 0 ? store : other).tickAlerts(nowMs, 2)));
    for (let looked = 1; looked > 0; ) looked = await store.tickAlerts(nowMs, 2);
    expect(told.map(({ machineId, step }) => `${machineId} ${step}`).sort()).toEqual(
      ['a', 'b', 'c'].flatMap((id) => [`${id} escalated`, `${id} unknown`]),
    );
    expect(await takeAlerts()).toHaveLength(9);
  });

  it('finds a machine that has fallen silent, and its next sample ends that', async () => {
    await commit(store, 'm');
    nowMs += 71 * hourMs;
    expect(await store.tickAlerts(nowMs, 10)).toBe(0);
    nowMs += 2 * hourMs;
    await store.tickAlerts(nowMs, 10);
    await commit(store, 'm');
    expect(told.map(({ step, alert }) => `${alert.ruleId} ${step}`)).toEqual([
      'machine-silent opened',
      'machine-silent closed',
    ]);
  });
});

describe('people', () => {
  it('acknowledge, assign and shelve, each once and with their names', async () => {
    await commit(store, 'm', { findings: [findingAt('m', startMs)] });
    const id = `m~idle-over-an-hour~${startMs}`;
    const by = { actor: 'dispatcher', nowMs };
    expect(await store.actOnAlert(id, { type: 'acknowledge' }, by)).toMatchObject({ outcome: 'done' });
    expect(await store.actOnAlert(id, { type: 'acknowledge' }, by)).toMatchObject({ outcome: 'done', events: [] });
    await store.actOnAlert(id, { type: 'assign', to: 'workshop' }, by);
    await store.actOnAlert(id, { type: 'shelve', untilMs: nowMs + hourMs, reason: 'spare part' }, by);
    expect(await store.actOnAlert(id, { type: 'shelve', untilMs: nowMs - 1, reason: 'late' }, by)).toEqual({
      outcome: 'refused',
      reason: 'The end of the shelf lies in the past.',
    });
    expect(await store.actOnAlert('m~none~1', { type: 'unshelve' }, by)).toEqual({ outcome: 'unknown-alert' });
    const found = await store.getAlert(id);
    expect(found?.events.map(({ step, actor }) => [step, actor])).toEqual([
      ['opened', null],
      ['acknowledged', 'dispatcher'],
      ['assigned', 'dispatcher'],
      ['shelved', 'dispatcher'],
    ]);
    expect(found?.alert.operator).toMatchObject({
      isAcknowledged: true,
      assignee: 'workshop',
      shelvedBy: 'dispatcher',
    });
    nowMs += 2 * hourMs;
    await commit(store, 'm', { findings: [findingAt('m', startMs)] });
    expect(linesOf(told).slice(-1)).toEqual(['4 unshelved inform']);
  });

  it('and commits at once keep every step, in one order', async () => {
    const finding = findingAt('m', startMs);
    await commit(store, 'm', { findings: [finding] });
    const id = `m~idle-over-an-hour~${startMs}`;
    const severity = (n: number) => (n % 2 === 0 ? 'severe' : 'warning') as 'severe' | 'warning';
    await Promise.all([
      ...Array.from({ length: 10 }, (_, n) =>
        store.actOnAlert(id, { type: 'comment', note: `call ${n}` }, { actor: 'a', nowMs }),
      ),
      ...Array.from({ length: 10 }, (_, n) =>
        commit(store, 'm', { findings: [{ ...finding, severity: severity(n), values: { n } }] }),
      ),
    ]);
    const found = await store.getAlert(id);
    expect(found?.events.map(({ sequence }) => sequence)).toEqual(found?.events.map((_, n) => n));
    expect(found?.events.filter(({ step }) => step === 'commented')).toHaveLength(10);
    expect(found?.alert.sequence).toBe((found?.events.length ?? 0) - 1);
  });

  it('set rules and maintenance windows, which are in force for what is open too', async () => {
    await store.putMachine('m', machineProfileSchema.parse({ site: 'Skarnfell quarry' }));
    await commit(store, 'm', { findings: [findingAt('m', startMs)] });
    const window = { id: 'w', fleetId: 'main', machineId: null, site: 'Skarnfell quarry', fromMs: nowMs, toMs: null };
    await store.addMaintenanceWindow({ ...window, reason: 'tyres', by: 'a' }, nowMs);
    expect(await store.addMaintenanceWindow({ ...window, reason: 'again', by: 'a' }, nowMs)).toBe(false);
    nowMs += 10_000;
    await store.tickAlerts(nowMs, 10);
    const own = { ...ruleSchema.parse({ id: 'idle-over-an-hour', title: 'Idle', when: { finding: 'idle-streak' } }) };
    const off = { ...own, isEnabled: false };
    const stored = await store.putRule({ fleetId: 'main', rule: off, by: 'a', nowMs });
    expect(stored).toMatchObject({ revision: 1, rule: off });
    for (const basedOn of [0, 2]) {
      expect(await store.putRule({ fleetId: 'main', rule: own, by: 'b', nowMs, basedOn })).toBeNull();
    }
    expect(await store.putRule({ fleetId: 'elsewhere', rule: own, by: 'b', nowMs, basedOn: 1 })).toBeNull();
    expect(await store.putRule({ fleetId: 'main', rule: off, by: 'b', nowMs, basedOn: 1 })).toMatchObject({
      revision: 2,
      changedBy: 'b',
    });
    nowMs += 10_000;
    await store.tickAlerts(nowMs, 10);
    expect(linesOf(told)).toEqual(['0 opened page', '1 suppressed quiet', '2 closed inform']);
    expect(await store.deleteRule('main', off.id, nowMs)).toBe(true);
    expect(await store.deleteRule('main', off.id, nowMs)).toBe(false);
    expect(await store.listRules('all')).toEqual([]);
    expect(await store.listMaintenanceWindows(nowMs)).toHaveLength(1);
    expect(await store.deleteMaintenanceWindow('w', nowMs)).toBe(true);
  });

  it('list alerts by what they look for, page by page', async () => {
    for (const id of ['a', 'b', 'c', 'd']) {
      const endedMs = id === 'd' ? nowMs : null;
      await commit(store, id, { findings: [findingAt(id, startMs, { endedMs })] });
    }
    const ids = async (more: object) =>
      (await store.listAlerts({ limit: 10, ...more })).items.map(({ machineId }) => machineId);
    expect(await ids({})).toEqual(['a', 'b', 'c', 'd']);
    expect(await ids({ conditions: ['active', 'unknown'] })).toEqual(['a', 'b', 'c']);
    expect(await ids({ machineId: 'b' })).toEqual(['b']);
    expect(await ids({ ruleIds: ['hot-stop'] })).toEqual([]);
    const first = await store.listAlerts({ limit: 3 });
    const rest = await store.listAlerts({ limit: 3, cursor: first.nextCursor as string });
    expect(rest.items.map(({ machineId }) => machineId)).toEqual(['d']);
  });

  it('of another fleet see nothing of it', async () => {
    await commit(store, 'm', { findings: [findingAt('m', startMs)] });
    const id = `m~idle-over-an-hour~${startMs}`;
    const foreign = store.forFleets(['south']);
    expect((await foreign.listAlerts({ limit: 10 })).items).toEqual([]);
    expect(await foreign.getAlert(id)).toBeNull();
    const acted = await foreign.actOnAlert(id, { type: 'acknowledge' }, { actor: 'a', nowMs });
    expect(acted).toEqual({ outcome: 'unknown-alert' });
    const own = store.forFleets(['main']);
    expect(await own.actOnAlert(id, { type: 'acknowledge' }, { actor: 'a', nowMs })).toMatchObject({ outcome: 'done' });
    const [row] = await runSql(url, 'SELECT count(*)::int AS n FROM alert_event');
    expect(row).toEqual({ n: 2 });
  });
});

describe('retention', () => {
  it('deletes what is over and old, with all its steps, and nothing that is open', async () => {
    const keep = { samplesMs: null, rowsMs: null, snapshotsMs: null, faultsMs: null, rejectsMs: null };
    const outbox = { sentOutboxMs: null, unsentOutboxMs: null };
    await commit(store, 'a', { findings: [findingAt('a', startMs, { endedMs: nowMs })] });
    await commit(store, 'b', { findings: [findingAt('b', startMs)] });
    const hence = nowMs + 10 * hourMs;
    expect((await store.retain({ ...keep, ...outbox }, hence)).alerts).toBe(0);
    expect((await store.retain({ ...keep, ...outbox, alertsMs: 9 * hourMs }, hence)).alerts).toBe(1);
    expect((await store.listAlerts({ limit: 10 })).items.map(({ machineId }) => machineId)).toEqual(['b']);
    expect(await runSql(url, 'SELECT machine_id FROM alert_event')).toEqual([{ machine_id: 'b' }]);
  });
});

describe('whoever follows', () => {
  it('hears of every step that another process commits, once, and of none that is undone', async () => {
    const heard: string[] = [];
    const other = await openOne();
    const feed = other.followAlerts((events) =>
      heard.push(...events.map(({ machineId, step }) => `${machineId} ${step}`)),
    );
    const until = async (count: number) => {
      for (let n = 0; n < 200 && heard.length < count; n++) await new Promise((resolve) => setTimeout(resolve, 20));
    };
    await commit(store, 'a', { findings: [findingAt('a', startMs)] });
    await until(1);
    const bad = changeOf('z', { findings: [findingAt('z', 0.5)] });
    await expect(
      store.commit([changeOf('b', { summary: summaryOf('b', nowMs, null), findings: [findingAt('b', startMs)] }), bad]),
    ).rejects.toThrow();
    // A server that throws everybody out, as at a restart.
    await runSql(
      url,
      `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND query LIKE 'LISTEN%'`,
    );
    await commit(store, 'c', { findings: [findingAt('c', startMs)] });
    await until(2);
    const many = Array.from({ length: 30 }, (_, n) => findingAt('d', startMs + n));
    await commit(store, 'd', { findings: many });
    await until(32);
    await feed.stop();
    expect(heard).toEqual(['a opened', 'c opened', ...many.map(() => 'd opened')]);
  });
});

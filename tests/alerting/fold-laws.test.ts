import {
  type AlertEvent,
  type AnalysedChange,
  builtInRules,
  foldChange,
  foldTick,
  initialAlertingState,
  machineRules,
  mostOpen,
  nextDueMs,
  type Rule,
  ruleSchema,
} from '@warmbrick/alerting';
import { type Finding, findingId, type MachineSummary, severities } from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type AlertDriver, createAlertDriver } from './alert-driver.js';

const minuteMs = 60_000;
const startMs = Date.UTC(2026, 10, 2, 7);
const machineId = 'loader-7';
const profile = machineProfileSchema.parse({ timeZone: 'Europe/Oslo' });
const kinds = ['idle-streak', 'hot-shutdown', 'def-low', 'derate'] as const;
const rules: readonly Rule[] = builtInRules;

const finding = fc
  .record({
    kind: fc.constantFrom(...kinds),
    startMin: fc.integer({ min: 0, max: 600 }),
    lengthMin: fc.option(fc.integer({ min: 0, max: 300 })),
    severity: fc.constantFrom(...severities),
    levelPct: fc.integer({ min: 2, max: 20 }),
  })
  .map(({ kind, startMin, lengthMin, severity, levelPct }): Finding => {
    const startedMs = startMs + startMin * minuteMs;
    const endedMs = lengthMin === null ? null : startedMs + lengthMin * minuteMs;
    const values = { levelPct, durationS: 3600 };
    const id = findingId(machineId, kind, startedMs);
    return { id, machineId, kind, startedMs, endedMs, severity, values, evidence: {}, thresholdSet: 't', emittedMs: 0 };
  });

type Step =
  | { readonly type: 'change'; readonly change: AnalysedChange; readonly lateMin: number }
  | { readonly type: 'wait'; readonly min: number }
  | { readonly type: 'act'; readonly what: 'acknowledge' | 'shelve' | 'unshelve' };

const step: fc.Arbitrary<Step> = fc.oneof(
  fc.record({
    type: fc.constant('change' as const),
    lateMin: fc.constantFrom(0, 0, 0, 30, 3000),
    change: fc.record({
      findings: fc.uniqueArray(finding, { maxLength: 4, selector: ({ id }) => id }),
      withdrawnFindingIds: fc.array(
        finding.map(({ id }) => id),
        { maxLength: 1 },
      ),
      summary: fc
        .tuple(fc.integer({ min: 0, max: 700 }), fc.option(fc.integer({ min: 0, max: 100 })))
        .map(([min, score]) => summaryAt(startMs + min * minuteMs, score)),
      rewoundToMs: fc.constantFrom(null, null, startMs),
    }),
  }),
  fc.record({ type: fc.constant('wait' as const), min: fc.integer({ min: 1, max: 3000 }) }),
  fc.record({ type: fc.constant('act' as const), what: fc.constantFrom('acknowledge', 'shelve', 'unshelve') }),
) as fc.Arbitrary<Step>;

function summaryAt(toMs: number, score: number | null): MachineSummary {
  const whole = { value: score, parts: {}, confidence: 1, missing: [], advice: '', caution: null };
  return {
    observed: { fromMs: startMs, toMs, coverageRatio: 1 },
    score: score === null ? null : whole,
    load: null,
    longestIdleS: 0,
    hotShutdowns: 0,
    residency: { idleS: 0, runningS: 0, belowReleaseS: 0 },
  } as unknown as MachineSummary;
}

interface Habits {
  readonly restarts?: boolean;
  readonly repeats?: boolean;
}

function play(steps: readonly Step[], { restarts = false, repeats = false }: Habits = {}): AlertDriver {
  const driver = createAlertDriver({ machineId, profile, rules });
  let nowMs = startMs;
  let seenMs: number | null = null;
  for (const one of steps) {
    if (restarts) driver.restart();
    if (one.type === 'change') {
      const toMs = one.change.summary?.observed.toMs as number;
      seenMs = Math.max(seenMs ?? 0, toMs);
      nowMs = Math.max(nowMs, seenMs + one.lateMin * minuteMs);
      const change = {
        ...one.change,
        summary: {
          ...(one.change.summary as MachineSummary),
          observed: { fromMs: startMs, toMs: seenMs, coverageRatio: 1 },
        },
      };
      const withdrawn = change.withdrawnFindingIds.filter((id) => !change.findings.some((it) => it.id === id));
      driver.change({ ...change, withdrawnFindingIds: withdrawn }, nowMs);
      if (repeats) driver.again();
    } else if (one.type === 'wait') {
      nowMs += one.min * minuteMs;
      driver.tick({ nowMs, seenMs });
      if (repeats) driver.tick({ nowMs, seenMs });
    } else if (driver.alerts().length > 0) {
      const until = { untilMs: nowMs + 30 * minuteMs, reason: 'law' };
      driver.act(one.what === 'shelve' ? { type: 'shelve', ...until } : { type: one.what }, nowMs);
    }
  }
  return driver;
}

const steps = fc.array(step, { maxLength: 40 });
/** Without the minute at which a condition was judged last, which is no part of what is told. */
const told = (events: readonly AlertEvent[]) =>
  events.map((event) => JSON.stringify({ ...event, alert: { ...event.alert, judgedMs: 0 } }));

describe('laws of the fold', () => {
  it('taking state and alerts through JSON at each step changes nothing', () => {
    fc.assert(
      fc.property(steps, (all) => {
        const [plain, restarted] = [play(all), play(all, { restarts: true })];
        expect(told(restarted.events())).toEqual(told(plain.events()));
        expect(JSON.stringify(restarted.state())).toBe(JSON.stringify(plain.state()));
      }),
      { numRuns: 200 },
    );
  });

  it('the same change or moment once more, as after a crash, tells nothing', () => {
    fc.assert(
      fc.property(steps, (all) => {
        // What is not part of a re-run comes in the order of time, so a repeat of it is the last that came.
        const [once, twice] = [play(all), play(all, { repeats: true })];
        expect(told(twice.events())).toEqual(told(once.events()));
      }),
      { numRuns: 200 },
    );
  });

  it('every alert has its steps numbered without a gap, none before the one before it, and nothing of the past pages', () => {
    fc.assert(
      fc.property(steps, (all) => {
        const byEpisode = new Map<string, AlertEvent[]>();
        for (const event of play(all).events())
          byEpisode.set(event.episodeId, [...(byEpisode.get(event.episodeId) ?? []), event]);
        for (const events of byEpisode.values()) {
          expect(events.map(({ sequence }) => sequence)).toEqual(events.map((_, n) => n));
          for (const [n, event] of events.entries()) {
            expect(event.atMs).toBeGreaterThanOrEqual(events[n - 1]?.atMs ?? 0);
            if (event.corrects !== null) expect(event.corrects).toBeLessThan(event.sequence);
            if (event.alert.isPast) expect(event.notice).not.toBe('page');
          }
        }
      }),
      { numRuns: 200 },
    );
  });

  it('nothing passed in is changed, and a change that concerns nobody gives the state back as it is', () => {
    fc.assert(
      fc.property(steps, (all) => {
        const driver = play(all);
        const state = deepFreeze(JSON.parse(JSON.stringify(driver.state()))) as ReturnType<typeof driver.state>;
        const recalled = deepFreeze(driver.alerts().filter(({ condition }) => condition === 'clear'));
        const summary = deepFreeze(summaryAt(startMs + 900 * minuteMs, 40));
        const change = deepFreeze({ findings: [], withdrawnFindingIds: [], summary, rewoundToMs: null });
        const nowMs = startMs + 900 * minuteMs;
        const first = foldChange(driver.rules, state, { change, nowMs, recalled });
        const second = foldChange(driver.rules, first.state, { change, nowMs, recalled: [] });
        expect(second.state).toBe(first.state);
        expect(second.events).toEqual([]);
        foldTick(driver.rules, state, { nowMs: nowMs + 1, seenMs: nowMs });
      }),
      { numRuns: 200 },
    );
  });

  it('once looked at, nothing is due at once, and until it is due passing time changes nothing', () => {
    fc.assert(
      fc.property(steps, fc.double({ min: 0.01, max: 0.99, noNaN: true }), (all, ratio) => {
        const driver = play(all);
        const seenMs = startMs + 900 * minuteMs;
        const nowMs = seenMs + 3 * minuteMs;
        const before = foldTick(driver.rules, driver.state(), { nowMs, seenMs });
        const dueMs = nextDueMs(driver.rules, before.state, { nowMs, seenMs }) ?? nowMs + 400 * 86_400_000;
        expect(dueMs).toBeGreaterThan(nowMs);
        const inBetween = foldTick(driver.rules, before.state, { nowMs: nowMs + ratio * (dueMs - nowMs), seenMs });
        expect(inBetween.events).toEqual([]);
      }),
      { numRuns: 300 },
    );
  });

  it('however findings come in, once they are all known the alerts are the same', () => {
    const list = fc.uniqueArray(finding, {
      minLength: 1,
      maxLength: 6,
      comparator: (a, b) => a.id === b.id || (a.kind === b.kind && overlaps(a, b)),
    });
    const rule = ruleSchema.parse({ id: 'any-idle', title: 'Any', when: { finding: 'idle-streak' } });
    fc.assert(
      fc.property(list, fc.infiniteStream(fc.boolean()), fc.integer({ min: 1, max: 9 }), (findings, order, stray) => {
        const ended = findings
          .map((one) => ({ ...one, kind: 'idle-streak' as const, endedMs: one.endedMs ?? one.startedMs + minuteMs }))
          .map((one) => ({ ...one, id: findingId(machineId, 'idle-streak', one.startedMs) }))
          .filter((one, at, all) => all.findIndex((other) => overlaps(one, other)) === at);
        const nowMs = startMs + 1000 * minuteMs;
        const summary = summaryAt(nowMs, null);
        const drive = (batches: readonly (readonly Finding[])[]) => {
          const driver = createAlertDriver({ machineId, profile, rules: [rule] });
          for (const batch of batches) {
            driver.change({ findings: batch, withdrawnFindingIds: [], summary, rewoundToMs: startMs }, nowMs);
          }
          return driver
            .alerts()
            .map(({ episodeId, startedMs, endedMs, severity, isWithdrawn, condition }) => ({
              episodeId,
              startedMs,
              endedMs,
              severity,
              isWithdrawn,
              condition,
            }))
            .sort((a, b) => (a.episodeId < b.episodeId ? -1 : 1));
        };
        const whole = drive([ended]);
        const others = ended.map((one) => ({
          ...one,
          severity: 'info' as const,
          endedMs: (one.endedMs as number) + stray,
        }));
        const shuffled = [...ended].sort(() => (order.next().value === true ? 1 : -1));
        expect(drive([...shuffled.map((one) => [one])])).toEqual(whole);
        expect(drive([others, ...shuffled.map((one) => [one])])).toEqual(whole);
      }),
      { numRuns: 200 },
    );
  });

  it('what comes without samples moves no delay of the condition', () => {
    const rule = ruleSchema.parse({ id: 'slow', title: 'Slow', when: { finding: 'idle-streak' }, onDelayS: 600 });
    const driver = createAlertDriver({ machineId, profile, rules: [rule] });
    const going = {
      machineId,
      kind: 'idle-streak' as const,
      startedMs: startMs,
      endedMs: null,
      severity: 'warning' as const,
    };
    const whole = {
      ...going,
      id: findingId(machineId, 'idle-streak', startMs),
      values: {},
      evidence: {},
      thresholdSet: 't',
      emittedMs: 0,
    };
    const rest = { withdrawnFindingIds: [], rewoundToMs: null };
    driver.change({ ...rest, findings: [whole], summary: summaryAt(startMs, null) }, startMs);
    driver.change({ ...rest, findings: [], summary: null }, startMs + 20 * minuteMs);
    expect(driver.events()).toEqual([]);
    driver.change(
      { ...rest, findings: [whole], summary: summaryAt(startMs + 20 * minuteMs, null) },
      startMs + 20 * minuteMs,
    );
    expect(driver.events().map(({ step }) => step)).toEqual(['opened']);
  });

  it('the state is bounded, and what is turned away is counted', () => {
    const many = Array.from({ length: 3 * mostOpen }, (_, n) => {
      const startedMs = startMs + n;
      const id = findingId(machineId, 'idle-streak', startedMs);
      return {
        id,
        machineId,
        kind: 'idle-streak' as const,
        startedMs,
        endedMs: null,
        severity: 'warning' as const,
        values: {},
        evidence: {},
        thresholdSet: 't',
        emittedMs: 0,
      };
    });
    const own = machineRules({ ownRules: [], windows: [] }, { machineId, fleetId: 'main', profile });
    const change = {
      findings: many,
      withdrawnFindingIds: [],
      summary: summaryAt(startMs + 1000, null),
      rewoundToMs: null,
    };
    const { state } = foldChange(own, initialAlertingState(machineId), { change, nowMs: startMs + 1000, recalled: [] });
    expect(state.open).toHaveLength(mostOpen);
    expect(state.turnedAway).toBe(2 * mostOpen);
  });
});

function overlaps(a: Finding, b: Finding): boolean {
  return (
    a.startedMs <= (b.endedMs ?? Number.POSITIVE_INFINITY) && b.startedMs <= (a.endedMs ?? Number.POSITIVE_INFINITY)
  );
}

function deepFreeze<T>(value: T): T {
  if (typeof value === 'object' && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const one of Object.values(value)) deepFreeze(one);
  }
  return value;
}

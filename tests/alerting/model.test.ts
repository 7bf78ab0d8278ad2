import { type AlertEvent, ruleSchema } from '@warmbrick/alerting';
import { type Finding, findingId, type MachineSummary, type Severity } from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type AlertDriver, createAlertDriver } from './alert-driver.js';

const minuteMs = 60_000;
const startMs = Date.UTC(2026, 10, 2, 7);
const machineId = 'loader-7';
const escalateMin = 30;
const unknownMin = 40;
const offDelayMin = 10;
const rule = ruleSchema.parse({
  id: 'model',
  title: 'Model',
  when: { finding: 'idle-streak' },
  offDelayS: offDelayMin * 60,
  unknownAfterS: unknownMin * 60,
  escalation: [{ afterS: escalateMin * 60, to: 'office' }],
});

/** What a person would keep on a sheet of paper: minutes since the start, and how the one alert stands. */
interface Model {
  min: number;
  finding: { startMin: number; severity: Severity; isHeard: boolean } | null;
  alert: {
    condition: 'active' | 'releasing' | 'unknown';
    severity: Severity;
    judgedMin: number;
    endedMin: number | null;
    isAcknowledged: boolean;
    shelvedUntilMin: number | null;
    pagedMin: number | null;
    isEscalated: boolean;
  } | null;
  pages: number;
  opened: number;
  closed: number;
}

interface Real {
  readonly driver: AlertDriver;
  finding: Finding | null;
  /** Findings to send with the next samples. */
  news: Finding[];
  seenMs: number;
}

type Sheet = NonNullable<Model['alert']>;

function page(model: Model, alert: Sheet): void {
  if (alert.shelvedUntilMin !== null) return;
  model.pages++;
  alert.pagedMin = model.min;
}

/** What the passing of time does. */
function passTime(model: Model): void {
  const { alert, min } = model;
  if (alert === null) return;
  const isWaiting = () => (alert.condition === 'active' || alert.condition === 'unknown') && !alert.isAcknowledged;
  if (alert.shelvedUntilMin !== null && min >= alert.shelvedUntilMin) {
    alert.shelvedUntilMin = null;
    if (isWaiting()) page(model, alert);
  }
  if (alert.condition !== 'unknown' && min - alert.judgedMin >= unknownMin) {
    alert.condition = 'unknown';
    alert.endedMin = null;
  }
  const isDue = alert.pagedMin !== null && min - alert.pagedMin >= escalateMin;
  if (isDue && !alert.isEscalated && alert.shelvedUntilMin === null && isWaiting()) {
    alert.isEscalated = true;
    model.pages++;
  }
}

/** Closes what has been over for the off-delay, by machine time. */
function passRelease(model: Model): boolean {
  const { alert } = model;
  if (alert?.condition !== 'releasing' || alert.endedMin === null || model.min - alert.endedMin < offDelayMin)
    return false;
  model.alert = null;
  model.closed++;
  return true;
}

function takeSamples(model: Model): void {
  const { finding, min, alert } = model;
  if (finding !== null) finding.isHeard = true;
  if (finding !== null && alert === null) {
    model.alert = {
      ...{ condition: 'active', severity: finding.severity, judgedMin: min, endedMin: null, isAcknowledged: false },
      ...{ shelvedUntilMin: null, pagedMin: null, isEscalated: false },
    };
    model.opened++;
    page(model, model.alert);
  } else if (finding !== null && alert !== null) {
    alert.condition = 'active';
    alert.endedMin = null;
    alert.judgedMin = min;
    if (finding.severity !== alert.severity) {
      const isWorse = finding.severity === 'severe';
      alert.severity = finding.severity;
      if (isWorse) {
        alert.isAcknowledged = false;
        alert.isEscalated = false;
        page(model, alert);
      }
    }
  } else if (alert !== null) {
    if (alert.condition === 'active' || alert.condition === 'unknown') {
      // An end that is heard of ends it; the time of the end is that of the sample that showed it.
      alert.endedMin = alert.endedMin ?? min;
      alert.condition = 'releasing';
    }
    alert.judgedMin = min;
  }
  if (!passRelease(model)) passTime(model);
}

function summaryAt(toMs: number): MachineSummary {
  return {
    observed: { fromMs: startMs, toMs, coverageRatio: 1 },
    score: null,
    load: null,
  } as unknown as MachineSummary;
}

/** One machine-minute step with samples. */
function sendSamples(real: Real, min: number): void {
  const nowMs = startMs + min * minuteMs;
  const news = real.news.map((finding) => ({
    ...finding,
    emittedMs: nowMs,
    endedMs: finding.endedMs === null ? null : nowMs,
  }));
  const going = real.finding;
  if (going !== null && !news.some(({ id }) => id === going.id)) news.push(going);
  real.news = [];
  real.seenMs = nowMs;
  real.driver.change({ findings: news, withdrawnFindingIds: [], summary: summaryAt(nowMs), rewoundToMs: null }, nowMs);
}

function compare(model: Model, real: Real): void {
  const [open] = real.driver.state().open;
  const { alert } = model;
  expect(open?.condition ?? null).toBe(alert?.condition ?? null);
  if (open !== undefined && alert !== null) {
    expect(open.severity).toBe(alert.severity);
    expect(open.operator.isAcknowledged).toBe(alert.isAcknowledged);
    expect(open.operator.shelvedUntilMs).toBe(
      alert.shelvedUntilMin === null ? null : startMs + alert.shelvedUntilMin * minuteMs,
    );
  }
  const count = (is: (event: AlertEvent) => boolean) => real.driver.events().filter(is).length;
  expect(count(({ notice }) => notice === 'page')).toBe(model.pages);
  expect(count(({ step }) => step === 'opened')).toBe(model.opened);
  expect(count(({ step }) => step === 'closed')).toBe(model.closed);
}

type Command = fc.Command<Model, Real>;

const command = (name: string, check: (model: Model) => boolean, run: (model: Model, real: Real) => void): Command => ({
  check,
  run: (model, real) => {
    run(model, real);
    compare(model, real);
  },
  toString: () => name,
});

const samples = (minutes: number) =>
  command(
    `${minutes} min of samples`,
    () => true,
    (model, real) => {
      for (let n = 0; n < minutes; n++) {
        model.min++;
        takeSamples(model);
        sendSamples(real, model.min);
      }
    },
  );

const silence = (minutes: number) =>
  command(
    `${minutes} min of silence`,
    () => true,
    (model, real) => {
      for (let n = 0; n < minutes; n++) {
        model.min++;
        // Delays go on for two minutes after a sample; longer, and only a sample can say.
        const isBetween = startMs + model.min * minuteMs - real.seenMs <= 2 * minuteMs;
        if (!(isBetween && passRelease(model))) passTime(model);
        real.driver.tick({ nowMs: startMs + model.min * minuteMs, seenMs: real.seenMs });
      }
    },
  );

const begin = (severity: Severity) =>
  command(
    `begin ${severity}`,
    (model) => model.finding === null,
    (model, real) => {
      const startMin = model.min;
      model.finding = { startMin, severity, isHeard: false };
      const startedMs = startMs + startMin * minuteMs;
      const id = findingId(machineId, 'idle-streak', startedMs);
      const bare = { machineId, kind: 'idle-streak' as const, values: {}, evidence: {}, thresholdSet: 't' };
      real.finding = { ...bare, id, startedMs, endedMs: null, severity, emittedMs: startedMs };
    },
  );

const turn = (severity: Severity) =>
  command(
    `turn ${severity}`,
    (model) => model.finding !== null,
    (model, real) => {
      model.finding = { ...(model.finding as NonNullable<Model['finding']>), severity, isHeard: false };
      real.finding = { ...(real.finding as Finding), severity };
    },
  );

/** Ends with the next sample, which is what shows it; a finding that nobody heard of is as if it had not been. */
const end = command(
  'end',
  (model) => model.finding?.isHeard === true && model.alert !== null,
  (model, real) => {
    model.finding = null;
    real.news.push({ ...(real.finding as Finding), endedMs: 0 });
    real.finding = null;
    model.min++;
    takeSamples(model);
    sendSamples(real, model.min);
  },
);

const acknowledge = command(
  'acknowledge',
  (model) => model.alert !== null,
  (model, real) => {
    (model.alert as Sheet).isAcknowledged = true;
    real.driver.act({ type: 'acknowledge' }, startMs + model.min * minuteMs);
  },
);

const shelve = (minutes: number) =>
  command(
    `shelve ${minutes}`,
    (model) => model.alert !== null,
    (model, real) => {
      (model.alert as Sheet).shelvedUntilMin = model.min + minutes;
      const untilMs = startMs + (model.min + minutes) * minuteMs;
      real.driver.act({ type: 'shelve', untilMs, reason: 'model' }, startMs + model.min * minuteMs);
    },
  );

const restart = command(
  'restart',
  () => true,
  (_model, real) => real.driver.restart(),
);

const commands = [
  fc.integer({ min: 1, max: 45 }).map(samples),
  fc.integer({ min: 1, max: 60 }).map(silence),
  fc.constantFrom<Severity>('warning', 'severe').map(begin),
  fc.constantFrom<Severity>('warning', 'severe').map(turn),
  fc.constant(end),
  fc.constant(acknowledge),
  fc.integer({ min: 5, max: 90 }).map(shelve),
  fc.constant(restart),
];

const begun = (): { model: Model; real: Real } => ({
  model: { min: 0, finding: null, alert: null, pages: 0, opened: 0, closed: 0 },
  real: {
    driver: createAlertDriver({ machineId, profile: machineProfileSchema.parse({}), rules: [rule] }),
    finding: null,
    news: [],
    seenMs: startMs,
  },
});

describe('the fold against a model of it on a sheet of paper', () => {
  it('agrees on condition, severity, people, and the number of pages', () => {
    fc.assert(
      fc.property(fc.commands(commands, { maxCommands: 40 }), (sequence) => {
        fc.modelRun(begun, sequence);
      }),
      { numRuns: 300 },
    );
  });

  it('agrees where the data stops in the off-delay and the next finding comes with the first sample', () => {
    const { model, real } = begun();
    for (const one of [begin('warning'), samples(1), end, begin('warning'), silence(40), samples(1)]) {
      one.run(model, real);
    }
    expect(model).toMatchObject({ opened: 1, closed: 0, alert: { condition: 'active' } });
  });
});

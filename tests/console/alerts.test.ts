import { builtInRules, readRule } from '@warmbrick/alerting';
import {
  conditionWords,
  countStandings,
  draftOf,
  emptyDraft,
  groupAlerts,
  habitWords,
  idOf,
  noticeWords,
  ruleOf,
  standingOf,
  stepSentence,
  whenWords,
  withMessage,
} from '@warmbrick/console';
import type { AlertDocument, AlertMessage } from '@warmbrick/contracts';
import { describe, expect, it } from 'vitest';

function alertOf(machineId: string, more: Partial<AlertDocument> = {}): AlertDocument {
  return {
    ...{ episodeId: `${machineId}~idle-over-an-hour~1`, machineId, rule: 'idle-over-an-hour', title: 'Idle', text: '' },
    ...{ advice: null, caution: null, condition: 'active', severity: 'warning', isPast: false, isWithdrawn: false },
    group: { key: 'site/A', site: 'A', machineName: machineId, machineClass: 'loader', timeZone: 'UTC' },
    ...{ startedAt: '2026-03-10T06:00:00.000Z', endedAt: null, learnedAt: '2026-03-10T07:00:00.000Z', sequence: 0 },
    ...{ isAcknowledged: false, acknowledgedBy: null, acknowledgedAt: null, assignee: null, shelvedUntil: null },
    ...{ shelvedBy: null, shelveReason: null, suppression: 'none', suppressionReason: null, escalationLevel: 0 },
    ...{ findingId: null, figures: {}, thresholdSet: null },
    ...more,
  };
}

const messageOf = (alert: AlertDocument, more: Partial<AlertMessage>): AlertMessage => ({
  ...alert,
  ...{
    step: 'opened',
    notice: 'page',
    quietBecause: null,
    from: 'clear',
    to: 'active',
    escalateTo: null,
    corrects: null,
  },
  ...{ at: alert.startedAt, learnedAt: alert.startedAt, durationS: 0, actor: null, note: null },
  links: { alert: '', page: '', machine: '' },
  ...more,
});

describe('where an alert stands', () => {
  it('is over, set aside, seen or waiting', () => {
    expect(standingOf(alertOf('m'))).toBe('waiting');
    expect(standingOf(alertOf('m', { condition: 'unknown' }))).toBe('waiting');
    expect(standingOf(alertOf('m', { isAcknowledged: true }))).toBe('seen');
    expect(standingOf(alertOf('m', { shelvedUntil: '2026-03-10T09:00:00.000Z' }))).toBe('set-aside');
    expect(standingOf(alertOf('m', { suppression: 'out-of-service', isAcknowledged: true }))).toBe('set-aside');
    expect(standingOf(alertOf('m', { isPast: true }))).toBe('set-aside');
    expect(standingOf(alertOf('m', { isPast: true, condition: 'clear' }))).toBe('over');
    expect(countStandings([alertOf('a'), alertOf('b', { condition: 'clear' })])).toEqual({
      ...{ waiting: 1, seen: 0, 'set-aside': 0, over: 1 },
    });
  });

  it('groups by site and machine, what has to be looked at first at the top', () => {
    const group = (site: string | null) => ({ ...alertOf('x').group, site });
    const all = [
      alertOf('a', { isAcknowledged: true, severity: 'severe', group: group('A') }),
      alertOf('b', { group: group('B') }),
      alertOf('c', { severity: 'severe', group: group(null) }),
      alertOf('b', { episodeId: 'b~2', severity: 'severe', isAcknowledged: true, group: group('B') }),
    ];
    const shape = groupAlerts(all).map(({ site, count, machines }) => [site, count, machines.map((m) => m.machineId)]);
    expect(shape).toEqual([
      [null, 1, ['c']],
      ['B', 2, ['b']],
      ['A', 1, ['a']],
    ]);
    expect(groupAlerts(all)[1]?.machines[0]?.alerts.map(({ severity }) => severity)).toEqual(['warning', 'severe']);
  });
});

describe('a message of the stream', () => {
  it('makes an alert, changes it, and is passed over when it is older than what is shown', () => {
    const alert = alertOf('m');
    const made = withMessage(undefined, messageOf(alert, {}));
    expect(made).toMatchObject({ episodeId: alert.episodeId, condition: 'active', sequence: 0 });
    const shelve = {
      step: 'shelved',
      sequence: 1,
      shelvedUntil: '2026-03-10T09:00:00.000Z',
      actor: 'site',
      note: 'tyres',
    };
    const shelved = withMessage(made, messageOf(alert, shelve as Partial<AlertMessage>));
    expect(shelved).toMatchObject({ shelvedBy: 'site', shelveReason: 'tyres' });
    expect(withMessage(shelved, messageOf(alert, { sequence: 1 }))).toBe(shelved);
    const closed = withMessage(shelved, messageOf(alert, { sequence: 2, step: 'closed', to: 'clear' }));
    expect(closed).toMatchObject({ condition: 'clear', shelvedBy: null });
  });
});

describe('words', () => {
  it('say the condition, and that a latched one waits', () => {
    expect(conditionWords(alertOf('m'))).toBe('going on');
    expect(conditionWords(alertOf('m', { condition: 'unknown' }))).toBe('not known: no data');
    expect(conditionWords(alertOf('m', { endedAt: '2026-03-10T06:00:00.000Z' }))).toBe('happened, kept until seen');
    expect(conditionWords(alertOf('m', { condition: 'clear', isWithdrawn: true }))).toBe('withdrawn: it never was');
  });

  it('say each step, what it corrects, and why it told nobody', () => {
    const step = (more: Partial<AlertMessage>) => messageOf(alertOf('m'), more);
    expect(stepSentence(step({}))).toBe('opened: warning');
    expect(stepSentence(step({ step: 'escalated', escalateTo: 'site lead' }))).toBe('escalated to site lead');
    expect(stepSentence(step({ step: 'corrected', corrects: 2 }))).toBe('corrected by late data (step 3)');
    expect(stepSentence(step({ step: 'assigned', assignee: null }))).toBe('assigned to nobody');
    expect(noticeWords(step({}))).toBe('told people at once');
    expect(noticeWords(step({ notice: 'quiet', quietBecause: 'past' }))).toBe('told nobody: it was about the past');
    expect(noticeWords(step({ notice: 'inform' }))).toBe('');
  });

  it('say what every built-in rule looks at and how it holds', () => {
    for (const rule of builtInRules) {
      expect(whenWords(rule), rule.id).not.toMatch(/undefined|NaN/);
      expect(habitWords(rule).join(), rule.id).not.toMatch(/undefined|NaN/);
    }
    const def = builtInRules.find(({ id }) => id === 'def-low');
    expect(def === undefined ? '' : whenWords(def)).toMatch(/levelPct at most 10, until above 15$/);
  });
});

describe('The form of a rule', () => {
  it('gives every built-in rule back as it was', () => {
    expect(builtInRules.length).toBeGreaterThan(20);
    for (const rule of builtInRules) expect(readRule(ruleOf(draftOf(rule)))).toEqual({ rule, problems: null });
  });

  it('gives back what built-in rules do not ask for', () => {
    const { rule } = readRule({
      ...{ id: 'x', title: 'X', severity: 'severe', onDelayS: 100, unknownAfterS: 61.5, isEnabled: false },
      when: {
        finding: 'derate',
        where: [
          { value: 'level', atMost: -1.5, clearAbove: 0 },
          { value: 'isGuess', is: false },
          { value: 'kind', anyOf: ['a b', 'c'] },
        ],
      },
      appliesTo: { sites: ['Skarnfell quarry'], fleets: ['north'], classes: ['loader', 'truck'], machines: ['m-1'] },
      escalation: [{ afterS: 90, to: 'site lead' }],
    });
    expect(rule).not.toBeNull();
    if (rule !== null) expect(readRule(ruleOf(draftOf(rule))).rule).toEqual(rule);
  });

  it('begins with what has defaults, and lets the rest be named by the checks', () => {
    const draft = { ...emptyDraft, title: 'Läuft zu kalt!' };
    expect(idOf(draft.title)).toBe('lauft-zu-kalt');
    expect(readRule(ruleOf(draft)).problems?.map(({ path }) => path)).toEqual(['when']);
    const { rule } = readRule(ruleOf({ ...draft, level: '70' }));
    expect(rule).toMatchObject({ when: { figure: 'score', atLeast: 70 }, onDelayS: 0, pagesFrom: 'warning' });
    expect(readRule(ruleOf({ ...draft, level: 'high' })).problems?.[0]?.message).toMatch(/number/);
  });
});

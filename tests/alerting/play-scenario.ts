/** Plays a scenario: every interval its samples arrive, if any, then time passes. */

import type { AlertEvent } from '@warmbrick/alerting';
import type { Finding, FindingKind, MachineSummary, Severity } from '@warmbrick/analysis';
import { findingId } from '@warmbrick/analysis';
import { type AlertDriver, createAlertDriver } from './alert-driver.js';
import type { Scenario } from './scenario-file.js';
import { type Mark, readSeries } from './series.js';

const machineId = 'loader-7';
const minuteMs = 60_000;
const severityOf: Record<string, Severity> = { i: 'info', n: 'notice', w: 'warning', s: 'severe' };

interface Play {
  readonly scenario: Scenario;
  readonly driver: AlertDriver;
  readonly findings: Map<string, Finding>;
  /** Withdrawn ones, should they come again. */
  readonly gone: Map<string, Finding>;
  /** Figures that a revision has set, by finding. */
  readonly patches: Map<string, Record<string, number>>;
  readonly figures: Map<string, Mark[]>;
  readonly kinds: Map<FindingKind, Mark[]>;
  readonly lateMin: number[];
  /** Findings to send again, changed or not, and those to withdraw. */
  readonly revised: Finding[];
  readonly withdrawn: string[];
  nowMs: number;
  lastChange: { summary: MachineSummary; atMs: number } | null;
}

/** Gives every event, as lines such as "01:00 idle-over-an-hour opened warning page". */
export function playScenario(scenario: Scenario): { lines: string[]; events: AlertEvent[]; driver: AlertDriver } {
  const play = begin(scenario);
  const length = Math.max(...Object.values(scenario.series).map((text) => readSeries(text).length));
  const actions = Object.entries(scenario.do).map(([at, what]) => ({ atMs: offsetMs(at), what: [what].flat() }));
  for (let k = 0; k < length; k++) {
    const atMs = scenario.fromMs + k * scenario.everyMs;
    const lateMin = play.lateMin[Math.min(k, play.lateMin.length - 1)] as number;
    play.nowMs = Math.max(play.nowMs, atMs + lateMin * minuteMs);
    for (const { what } of actions.filter((one) => scenario.fromMs + one.atMs === atMs)) {
      for (const action of what) perform(play, action, atMs);
    }
    arrive(play, k, atMs);
    play.driver.tick({ nowMs: play.nowMs, seenMs: play.lastChange?.atMs ?? null });
  }
  const unused = actions.filter(({ atMs }) => atMs % scenario.everyMs !== 0 || atMs >= length * scenario.everyMs);
  if (unused.length > 0) throw new Error('an action does not fall on an interval of the scenario');
  const events = play.driver.events();
  return { lines: events.map((event) => lineOf(event, scenario.fromMs)), events, driver: play.driver };
}

function begin(scenario: Scenario): Play {
  const { series, profile, rules, maintenance, fromMs } = scenario;
  const windows = maintenance.map(({ from, to, site, reason }, n) => ({
    id: `window-${n}`,
    fleetId: 'main',
    machineId: site === undefined ? machineId : null,
    site: site ?? null,
    fromMs: fromMs + offsetMs(from),
    toMs: to === undefined ? null : fromMs + offsetMs(to),
    reason,
    by: 'site lead',
  }));
  const isFigure = (name: string) => name === 'score' || name === 'coverageRatio' || name === 'sootRatio';
  const entries = Object.entries(series).map(([name, text]) => [name, readSeries(text)] as const);
  return {
    scenario,
    driver: createAlertDriver({ machineId, profile, rules, windows }),
    findings: new Map(),
    gone: new Map(),
    patches: new Map(),
    figures: new Map(entries.filter(([name]) => isFigure(name))),
    kinds: new Map(entries.filter(([name]) => !isFigure(name) && name !== 'samples')) as Map<FindingKind, Mark[]>,
    lateMin: readSeries(scenario.late ?? '0').map(({ value }) => value ?? 0),
    revised: [],
    withdrawn: [],
    nowMs: fromMs,
    lastChange: null,
  };
}

/** The samples of one interval: they reach up to its time. */
function arrive(play: Play, k: number, atMs: number): void {
  const all = Object.values(play.scenario.series).map((text) => readSeries(text)[k]?.text);
  const findings: Finding[] = [];
  const hasSamples = !all.includes('-') && all.some((text) => text !== undefined);
  if (hasSamples)
    for (const [kind, symbols] of play.kinds) findings.push(...findingsAt(play, { kind, symbol: symbols[k], atMs }));
  if (!hasSamples && play.revised.length + play.withdrawn.length === 0) return;
  const isRewound = play.revised.length + play.withdrawn.length > 0;
  const byId = new Map(findings.map((finding) => [finding.id, finding]));
  // What late data changed stands in the figures of every later batch; see `finding`.
  for (const finding of play.revised) if (!byId.has(finding.id)) byId.set(finding.id, finding);
  const toMs = hasSamples ? atMs : (play.lastChange?.atMs ?? atMs);
  const summary = summaryAt(play, k, toMs);
  play.driver.change(
    {
      findings: [...byId.values()],
      withdrawnFindingIds: play.withdrawn.filter((id) => !byId.has(id)),
      summary,
      rewoundToMs: isRewound ? play.scenario.fromMs : null,
    },
    play.nowMs,
  );
  play.revised.length = 0;
  play.withdrawn.length = 0;
  play.lastChange = { summary, atMs: toMs };
}

function findingsAt(play: Play, of: { kind: FindingKind; symbol: Mark | undefined; atMs: number }): Finding[] {
  const { kind, symbol, atMs } = of;
  const text = symbol?.text ?? '.';
  const isMoment = text.endsWith('!');
  const severity = severityOf[text.replace('!', '')];
  const going = [...play.findings.values()].find((finding) => finding.kind === kind && finding.endedMs === null);
  const made: Finding[] = [];
  if (going !== undefined && (severity === undefined || isMoment)) {
    made.push(finding(play, { ...going, endedMs: atMs, emittedMs: atMs }));
  }
  if (severity !== undefined && (isMoment || going === undefined)) {
    const endedMs = isMoment ? atMs : null;
    const id = findingId(machineId, kind, atMs);
    made.push(
      finding(play, {
        id,
        machineId,
        kind,
        startedMs: atMs,
        endedMs,
        severity,
        values: {},
        evidence: {},
        thresholdSet: 'built-in-1',
        emittedMs: atMs,
      }),
    );
  } else if (severity !== undefined && going !== undefined) {
    made.push(finding(play, { ...going, severity, emittedMs: atMs }));
  }
  for (const one of made) play.findings.set(one.id, one);
  return made;
}

function finding(play: Play, bare: Finding): Finding {
  const named = play.scenario.figures[bare.kind] ?? {};
  const elapsedS = ((bare.endedMs ?? bare.emittedMs) - bare.startedMs) / 1000;
  const values = Object.fromEntries(
    Object.entries(named).map(([name, value]) => [name, value === 'elapsed' ? elapsedS : value]),
  );
  return { ...bare, values: { ...values, ...play.patches.get(bare.id) } };
}

function summaryAt(play: Play, k: number, toMs: number): MachineSummary {
  const figure = (name: string) => play.figures.get(name)?.[k]?.value ?? null;
  const score = figure('score');
  const soot = figure('sootRatio');
  return {
    machineId,
    observed: { fromMs: play.scenario.fromMs, toMs, coverageRatio: figure('coverageRatio') ?? 1 },
    score: score === null ? null : { value: score, parts: {}, confidence: 1, missing: [], advice: '', caution: null },
    load: soot === null ? null : { sootRatio: soot },
  } as unknown as MachineSummary;
}

/** Actions: "acknowledge", "assign NAME", "shelve MINUTES REASON", "unshelve", "comment WORDS"; and what late data does:
 * "revise (or remake) KIND@HH:MM ends HH:MM|never [as SEVERITY] [NAME=VALUE]", "withdraw KIND@HH:MM", "move KIND@HH:MM to HH:MM". */
function perform(play: Play, action: string, atMs: number): void {
  const [verb = '', ...rest] = action.split(' ');
  const { driver, nowMs } = play;
  if (verb === 'acknowledge') driver.act({ type: 'acknowledge' }, nowMs);
  else if (verb === 'assign') driver.act({ type: 'assign', to: rest.join(' ') }, nowMs);
  else if (verb === 'shelve') {
    driver.act({ type: 'shelve', untilMs: nowMs + Number(rest[0]) * minuteMs, reason: rest.slice(1).join(' ') }, nowMs);
  } else if (verb === 'unshelve') driver.act({ type: 'unshelve' }, nowMs);
  else if (verb === 'comment') driver.act({ type: 'comment', note: rest.join(' ') }, nowMs);
  else if (verb === 'restart') driver.restart();
  else if (verb === 'again') driver.again();
  else late(play, { verb, rest, atMs });
}

function late(play: Play, { verb, rest, atMs }: { verb: string; rest: string[]; atMs: number }): void {
  const [kind = '', start = '00:00'] = (rest[0] ?? '').split('@');
  const startedMs = play.scenario.fromMs + offsetMs(start);
  const id = findingId(machineId, kind as FindingKind, startedMs);
  const known = play.findings.get(id) ?? play.gone.get(id);
  if (known === undefined) throw new Error(`there is no finding ${rest[0]}`);
  if (verb === 'withdraw') {
    play.gone.set(id, known);
    play.findings.delete(id);
    return void play.withdrawn.push(id);
  }
  if (verb === 'move') {
    const movedMs = play.scenario.fromMs + offsetMs(rest[2] as string);
    play.withdrawn.push(id);
    play.findings.delete(id);
    const moved = finding(play, {
      ...known,
      id: findingId(machineId, kind as FindingKind, movedMs),
      startedMs: movedMs,
    });
    play.findings.set(moved.id, moved);
    play.revised.push(moved);
    return;
  }
  if (verb !== 'revise' && verb !== 'remake') throw new Error(`"${verb}" is no action`);
  const ends = rest[rest.indexOf('ends') + 1];
  const as = rest.includes('as') ? (rest[rest.indexOf('as') + 1] as Severity) : known.severity;
  const endedMs = !rest.includes('ends')
    ? known.endedMs
    : ends === 'never'
      ? null
      : play.scenario.fromMs + offsetMs(ends as string);
  const figures = rest.filter((word) => word.includes('=')).map((word) => word.split('='));
  const values = Object.fromEntries(figures.map(([name, value]) => [name as string, Number(value)]));
  play.patches.set(id, { ...play.patches.get(id), ...values });
  const revised = finding(play, {
    ...known,
    endedMs,
    severity: as,
    emittedMs: Math.max(known.emittedMs, Math.min(atMs, known.emittedMs)),
  });
  play.findings.set(id, revised);
  play.revised.push(revised);
}

function offsetMs(text: string): number {
  const [hours, minutes] = text.split(':').map(Number);
  return ((hours as number) * 60 + (minutes as number)) * minuteMs;
}

function lineOf(event: AlertEvent, fromMs: number): string {
  const minutes = Math.floor((event.learnedMs - fromMs) / minuteMs);
  const at = `${String(Math.floor(minutes / 60)).padStart(2, '0')}:${String(minutes % 60).padStart(2, '0')}`;
  const how = event.quietBecause === null ? event.notice : `${event.notice}(${event.quietBecause})`;
  const state = event.from === event.to ? '' : ` ${event.from}->${event.to}`;
  const corrects = event.corrects === null ? '' : ` corrects ${event.corrects}`;
  const to = event.escalateTo === null ? '' : ` to ${event.escalateTo}`;
  return `${at} ${event.alert.ruleId} #${event.sequence} ${event.step} ${event.alert.severity} ${how}${state}${corrects}${to}`;
}

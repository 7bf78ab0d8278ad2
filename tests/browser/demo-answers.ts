/** Answers of the API about the invented machines, in the shape of the contract. */

import type { DayStrip, FindingDocument, MachineDetail, MachineItem, ResidencySeries } from '@warmbrick/contracts';
import { defaultProfile } from '@warmbrick/signals';
import { demoLoad, hasDemoFilter } from './demo-load.js';
import { type DemoMachine, type Segment, tempAt } from './demo-machines.js';
import { demoDef, demoNoxBins, demoSuspect } from './demo-outlook.js';

const quarterS = 900;
const dayMs = 86_400_000;
/** Residency is counted on this grid. */
const stepS = 60;
const window = { lowC: 350, highC: 450 };

type Sums = MachineItem['residency'];

export function iso(timeMs: number): string {
  return new Date(timeMs).toISOString();
}

/** One machine of the list. */
export function demoItem(machine: DemoMachine): MachineItem {
  const startMs = Math.floor((machine.lastSampleMs - dayMs) / 900_000 + 1) * 900_000;
  const quarters = Array.from({ length: 96 }, (_, row) => sumsOf(machine, startMs + row * 900_000, quarterS));
  const column = (name: keyof DayStrip & keyof Sums) => quarters.map((quarter) => quarter[name] as number);
  const residency = added(quarters);
  const findings = demoFindings(machine).filter((finding) => Date.parse(finding.startedAt) >= startMs);
  const findingCounts: Record<string, number> = {};
  for (const finding of findings) findingCounts[finding.kind] = (findingCounts[finding.kind] ?? 0) + 1;
  const last = machine.segments[machine.segments.length - 1];
  return {
    machineId: machine.machineId,
    name: machine.name,
    machineClass: machine.machineClass,
    site: machine.site,
    timeZone: machine.timeZone,
    lastSampleAt: iso(machine.lastSampleMs),
    mode: last === undefined ? 'unobserved' : last.endMs < machine.lastSampleMs ? 'off' : last.mode,
    score: scoreOf(machine, residency, findingCounts),
    day: {
      startedAt: iso(startMs),
      bucketS: quarterS,
      runningS: column('runningS'),
      idleS: column('idleS'),
      belowReleaseS: column('belowReleaseS'),
      belowS: column('belowS'),
      inS: column('inS'),
      aboveS: column('aboveS'),
      unobservedS: column('unobservedS'),
    },
    residency,
    findingCounts,
  };
}

/** The machine's own page. */
export function demoDetail(machine: DemoMachine): MachineDetail {
  const histogramS = new Array<number>(80).fill(0);
  for (const segment of machine.segments) {
    if (!isRunning(segment)) continue;
    for (let timeMs = segment.startMs; timeMs < segment.endMs; timeMs += stepS * 1000) {
      const bin = Math.min(79, Math.max(0, Math.floor(tempAt(segment, timeMs) / 10)));
      histogramS[bin] = (histogramS[bin] ?? 0) + stepS;
    }
  }
  const first = machine.segments[0];
  return {
    ...demoItem(machine),
    observed: { from: iso(first?.startMs ?? machine.lastSampleMs), to: iso(machine.lastSampleMs), coverageRatio: 0.97 },
    profile: {
      ...defaultProfile,
      site: machine.site,
      timeZone: machine.timeZone,
      machineClass: machine.machineClass,
      hasParticulateFilter: hasDemoFilter(machine),
    },
    window,
    histogramS,
    exhaustSourceS: { scrInletTempC: histogramS.reduce((sum, value) => sum + value, 0) },
    longestIdleS: machine.segments.reduce(
      (longest, { mode, startMs, endMs }) => (mode === 'idle' ? Math.max(longest, (endMs - startMs) / 1000) : longest),
      0,
    ),
    load: demoLoad(machine),
    def: demoDef(machine),
    noxBins: demoNoxBins(machine),
    suspectChannels: machine.machineId === demoSuspect ? ['turbineOutTempC'] : [],
    thresholdSet: 'built-in-1',
  };
}

/** Everything found on a machine, the latest first. */
export function demoFindings(machine: DemoMachine): FindingDocument[] {
  const { segments } = machine;
  const found: FindingDocument[] = [];
  const add = (kind: FindingDocument['kind'], segment: Segment, more: Partial<FindingDocument>) => {
    const goesOn = segment.endMs >= machine.lastSampleMs;
    found.push({
      id: `${machine.machineId}~${kind}~${segment.startMs}`,
      machineId: machine.machineId,
      kind,
      startedAt: iso(segment.startMs),
      endedAt: goesOn ? null : iso(segment.endMs),
      severity: 'warning',
      values: {},
      evidence: {},
      thresholdSet: 'built-in-1',
      ...more,
    });
  };
  segments.forEach((segment, index) => {
    const lengthS = (segment.endMs - segment.startMs) / 1000;
    const next = segments[index + 1];
    if (segment.mode === 'idle' && lengthS > 3600) {
      add('idle-streak', segment, {
        severity: lengthS > 5400 ? 'severe' : 'warning',
        values: { durationS: lengthS, limitS: 3600, fuelL: lengthS / 1400, hourCost: 19.7 },
        evidence: { unobservedS: 0, fuelRateKnownS: lengthS },
      });
    }
    if (segment.mode === 'unobserved')
      add('data-gap', segment, {
        severity: 'notice',
        values: { durationS: lengthS, engineRan: true },
        evidence: { reason: 'no-samples' },
      });
    const endC = tempAt(segment, segment.endMs);
    const stops =
      next === undefined ? segment.endMs < machine.lastSampleMs : next.startMs > segment.endMs || next.mode === 'off';
    if (stops && isRunning(segment) && segment.mode !== 'cooling-down' && endC > 260) {
      const stop = { ...segment, startMs: segment.endMs, endMs: segment.endMs + 1000 };
      add('hot-shutdown', stop, {
        severity: endC > 350 ? 'severe' : 'warning',
        values: { cooldownS: 20, wantedS: 300, turbineTempC: Math.round(endC), inferred: true },
        evidence: { stopSeenBy: 'sample', temperatureFrom: 'turbine outlet sensor' },
      });
    }
  });
  return found.sort((a, b) => Date.parse(b.startedAt) - Date.parse(a.startedAt));
}

/** Residency by hour or day, or by the day shift of every day. */
export function demoResidency(
  machine: DemoMachine,
  bucket: ResidencySeries['bucket'],
  fromMs: number,
  toMs: number,
): ResidencySeries {
  const lengthS = bucket === 'day' ? 86_400 : bucket === 'shift' ? 43_200 : bucket === 'hour' ? 3600 : quarterS;
  const stepMs = bucket === 'shift' ? dayMs : lengthS * 1000;
  const offsetMs = bucket === 'shift' ? 5 * 3_600_000 : 0;
  const items: ResidencySeries['items'] = [];
  for (let startMs = Math.ceil((fromMs - offsetMs) / stepMs) * stepMs + offsetMs; startMs < toMs; startMs += stepMs) {
    const sums = sumsOf(machine, startMs, lengthS);
    items.push({
      startedAt: iso(startMs),
      endedAt: iso(startMs + lengthS * 1000),
      shift: bucket === 'shift' ? 'day' : null,
      ...sums,
    });
  }
  return { bucket, timeZone: machine.timeZone, items };
}

function scoreOf(machine: DemoMachine, sums: Sums, counts: Record<string, number>): MachineItem['score'] {
  if (machine.confidence === null) return null;
  const load = demoLoad(machine);
  const coldRatio = sums.runningS > 0 ? sums.belowS / sums.runningS : 0;
  const points = hasDemoFilter(machine) ? { soot: 35, deposits: 25, cold: 25 } : { soot: 0, deposits: 45, cold: 40 };
  const part = (most: number, ratio: number) => Math.round(most * Math.min(1, ratio) * 10) / 10;
  const parts = {
    'soot-load': part(points.soot, load?.sootRatio ?? 0),
    deposits: part(points.deposits, load?.depositRatio ?? 0),
    'cold-running': part(points.cold, coldRatio),
    idling: part(8, sums.idleS / 3600 / 4),
    'hot-stops': part(7, (counts['hot-shutdown'] ?? 0) / 2),
  };
  const value = Math.round(Object.values(parts).reduce((total, each) => total + each, 0) * 10) / 10;
  return {
    value,
    parts,
    confidence: machine.confidence,
    missing: machine.confidence < 0.5 ? ['exhaust temperature for most of the day', 'engine load'] : [],
    advice: value < 30 ? 'Nothing needed: keep working it as it is.' : adviceOf(load),
    caution: value < 30 ? null : 'The exhaust and what is around it get hot.',
  };
}

function adviceOf(load: MachineDetail['load']): string {
  const minutes = load?.minutesUntilClean ?? null;
  const work =
    minutes === null
      ? 'Work at 400 °C alone would take over 10 h: have the filter and the doser looked at.'
      : `Work it at load until the exhaust has held above 400 °C for ${Math.max(15, minutes)} min.`;
  return `${work} Keep idles under an hour.`;
}

export function isRunning({ mode }: Segment): boolean {
  return mode !== 'off' && mode !== 'unobserved';
}

function emptySums(): Sums {
  return {
    runningS: 0,
    idleS: 0,
    coolingDownS: 0,
    lightS: 0,
    workingS: 0,
    belowS: 0,
    inS: 0,
    aboveS: 0,
    belowReleaseS: 0,
    noTemperatureS: 0,
    crankingS: 0,
    offS: 0,
    unobservedS: 0,
    fuelL: 0,
    maxExhaustTempC: null,
  };
}

/** Sums of a stretch on a grid of a minute. */
function sumsOf(machine: DemoMachine, startMs: number, lengthS: number): Sums {
  const sums = emptySums();
  let index = machine.segments.findIndex((segment) => segment.endMs > startMs);
  for (let timeMs = startMs; timeMs < startMs + lengthS * 1000; timeMs += stepS * 1000) {
    while (index !== -1 && (machine.segments[index]?.endMs ?? Number.POSITIVE_INFINITY) <= timeMs) index += 1;
    const segment = index === -1 ? undefined : machine.segments[index];
    if (timeMs >= machine.lastSampleMs) continue;
    if (segment === undefined || segment.startMs > timeMs) sums.offS += stepS;
    else count(sums, segment, timeMs);
  }
  return sums;
}

function count(sums: Sums, segment: Segment, timeMs: number): void {
  if (segment.mode === 'unobserved') sums.unobservedS += stepS;
  else if (!isRunning(segment)) sums.offS += stepS;
  else {
    const tempC = tempAt(segment, timeMs);
    sums.runningS += stepS;
    sums.fuelL += (stepS / 3600) * (2 + segment.loadPct / 6);
    sums.maxExhaustTempC = Math.max(sums.maxExhaustTempC ?? tempC, tempC);
    if (segment.mode === 'light') sums.lightS += stepS;
    else if (segment.mode === 'working') sums.workingS += stepS;
    else sums.idleS += stepS;
    if (segment.mode === 'cooling-down') sums.coolingDownS += stepS;
    if (tempC < 200) sums.belowReleaseS += stepS;
    if (tempC < window.lowC) sums.belowS += stepS;
    else if (tempC < window.highC) sums.inS += stepS;
    else sums.aboveS += stepS;
  }
}

function added(rows: readonly Sums[]): Sums {
  const total = emptySums();
  for (const row of rows) {
    for (const name of Object.keys(total) as (keyof Sums)[]) {
      if (name === 'maxExhaustTempC')
        total[name] = row[name] === null ? total[name] : Math.max(total[name] ?? 0, row[name]);
      else total[name] += row[name];
    }
  }
  return total;
}

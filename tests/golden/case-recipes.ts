/** The recipes that the cases of replay-data are made from: machines, duties and what travels wrong. */

import type { FindingKind } from '@warmbrick/analysis';
import type { ChannelName, FaultReport, SampleBlock } from '@warmbrick/signals';
import { type DeliveryFaults, type DutySegment, deliver, type SimulatedMachine } from '@warmbrick/simulator';
import type { CaseFileInput, FindingPick } from './case-file.js';
import { scrolledAwayMachine, scrolledAwayStartMs, withBodyCodes } from './derate-recipe.js';
import type { WriteOptions } from './write-recording.js';

interface RecordingPlan {
  readonly file: string;
  readonly blocks: readonly SampleBlock[];
  /** A CAN log of these reports instead of samples. */
  readonly reports?: readonly FaultReport[];
  readonly options?: WriteOptions;
}

export interface Recipe {
  readonly folder: string;
  readonly title: string;
  readonly shows: readonly FindingKind[];
  readonly seed: number;
  readonly startMs: number;
  readonly machines: readonly SimulatedMachine[];
  readonly files: (blocks: readonly SampleBlock[], reports: readonly FaultReport[]) => readonly RecordingPlan[];
  readonly absent?: readonly FindingPick[];
  readonly ignore?: readonly FindingPick[];
  /** Findings that the truth does not tell but the schedule does, worked out by hand. */
  readonly alsoExpected?: CaseFileInput['expected'];
  readonly sameAnswerFrom?: readonly string[];
  /** Whether samples come repeated and out of order. */
  readonly isDisordered?: boolean;
  /** Tolerances where sensors fail and the truth cannot be met to the second. */
  readonly idleWithinS?: number;
  /** Whether residency totals can be told from the truth: not with lost samples. */
  readonly hasTotals?: boolean;
}

const oslo = { site: 'Skarnfell quarry', timeZone: 'Europe/Oslo' } as const;
const reykjavik = { site: 'Grjothals pit', timeZone: 'Atlantic/Reykjavik' } as const;
/** 06:00 on a day of March 2026 at Oslo, which is at UTC+1 until the 29th. */
const osloMorning = (day: number): number => Date.UTC(2026, 2, day, 5);
const reykjavikMorning = (day: number): number => Date.UTC(2026, 2, day, 6);

const base: readonly ChannelName[] = ['engineSpeedRpm', 'engineLoadPct'];
const rich = [...base, 'turbineOutTempC', 'scrInletTempC', 'coolantTempC', 'ambientTempC', 'engineHours'] as const;

const coldIsElsewhere: FindingPick = { kind: 'cold-dwell', why: 'light-duty-below-window is the case for it' };
const frostIsElsewhere: FindingPick = {
  kind: 'cold-start',
  why: 'a start in frost is noted, not complained of; cold-starts is the case for it',
};
const none = (kind: FindingKind, why: string): FindingPick => ({ kind, why });

function machine(
  machineId: string,
  channels: readonly ChannelName[],
  rest: Omit<Partial<SimulatedMachine>, 'schedule'> & { readonly schedule: readonly DutySegment[] },
): SimulatedMachine {
  return {
    machineId,
    habit: 'careful',
    profile: { ...oslo, machineClass: 'wheel loader', displacementL: 11, ratedPowerKW: 250 },
    ...rest,
    channels: channels as SimulatedMachine['channels'],
  };
}

const oneFile =
  (file: string, options: WriteOptions = {}) =>
  (blocks: readonly SampleBlock[]) => [{ file, blocks, options }];
/** A file a machine, with the machine's number in its name. */
const fileEach =
  (...files: readonly string[]) =>
  (blocks: readonly SampleBlock[]): RecordingPlan[] =>
    blocks.map((block, i) => ({ file: files[i] as string, blocks: [block] }));

const work = (durationS: number, loadPct = 74): DutySegment => ({ kind: 'work', durationS, loadPct });
const idle = (durationS: number): DutySegment => ({ kind: 'idle', durationS });
const light = (durationS: number, loadPct = 33): DutySegment => ({ kind: 'light', durationS, loadPct });
const start = (durationS: number): DutySegment => ({ kind: 'start', durationS });
const coolDown = (durationS: number): DutySegment => ({ kind: 'cool-down', durationS });
const off = (durationS: number): DutySegment => ({ kind: 'off', durationS });

const goodShift: Recipe = {
  folder: 'good-shift',
  title: 'A shift done right: nothing to report but the runs themselves',
  shows: ['engine-run'],
  seed: 101,
  startMs: osloMorning(10),
  machines: [
    machine('loader-11', [...rich, 'fuelRateLPerH'], {
      gateway: { samplePeriodS: 2 },
      schedule: [
        start(700),
        work(5400),
        idle(120),
        work(4800),
        idle(180),
        work(3600),
        coolDown(360),
        off(2400),
        start(150),
        work(5400),
        idle(150),
        work(4200),
        coolDown(400),
        off(300),
      ],
    }),
  ],
  files: oneFile('recording.csv.gz'),
  absent: [
    none('idle-streak', 'the longest idle is a warm-up of some ten minutes'),
    none('hot-shutdown', 'both stops had over five minutes of cool-down'),
    none('early-load', 'the cold start was warmed up, the second start was warm'),
    none('cold-dwell', 'the machine works in the window'),
    none('data-gap', 'nothing was lost'),
  ],
  ignore: [frostIsElsewhere],
};

const longIdles: Recipe = {
  folder: 'long-idles',
  title: 'One idle streak over an hour with two short blips in it, and one that real work breaks in time',
  shows: ['idle-streak'],
  seed: 102,
  startMs: osloMorning(11),
  machines: [
    machine('excavator-11', [...base, 'exhaustTempC', 'fuelRateLPerH'], {
      gateway: { samplePeriodS: 2 },
      profile: { ...oslo, machineClass: 'excavator', displacementL: 9.3, ratedPowerKW: 210 },
      schedule: [
        start(420),
        work(2400),
        idle(2000),
        light(18),
        idle(1500),
        light(22),
        idle(1200),
        work(1800),
        idle(2600),
        work(300),
        idle(2500),
        work(1200),
        coolDown(700),
        off(300),
      ],
    }),
  ],
  files: oneFile('recording.ndjson.gz'),
  absent: [none('hot-shutdown', 'the stop had its cool-down')],
  ignore: [coldIsElsewhere],
};

const hotStops: Recipe = {
  folder: 'hot-stops',
  title: 'Stops after a full, a short and hardly any cool-down; and one by a gateway that dies with the key',
  shows: ['hot-shutdown'],
  seed: 103,
  startMs: osloMorning(12),
  machines: [
    machine('loader-12', rich, {
      gateway: { awakeAfterKeyOffS: 60 },
      schedule: [
        start(600),
        work(1800, 80),
        coolDown(330),
        off(600),
        start(120),
        work(1500, 85),
        coolDown(95),
        off(600),
        start(120),
        work(1500, 85),
        coolDown(8),
        off(300),
      ],
    }),
    machine('hauler-12', [...base, 'exhaustTempC', 'engineHours'], {
      gateway: { awakeAfterKeyOffS: 0, samplePeriodS: 2 },
      profile: { ...oslo, machineClass: 'haul truck', displacementL: 13, ratedPowerKW: 320 },
      schedule: [start(500), work(2400, 80), coolDown(20), off(2700), start(150), work(1800), coolDown(400), off(300)],
    }),
  ],
  files: fileEach('recording-loader.csv.gz', 'recording-hauler.ndjson.gz'),
  absent: [
    none('data-gap', 'a gateway without power is no gap in the data'),
    none('early-load', 'the first starts were warmed up, the others were warm'),
  ],
  ignore: [coldIsElsewhere, frostIsElsewhere],
};

const lightDuty: Recipe = {
  folder: 'light-duty-below-window',
  title: 'A telehandler that carries little all morning and never gets its catalyst into the window',
  shows: ['cold-dwell'],
  seed: 104,
  startMs: reykjavikMorning(13),
  machines: [
    machine('handler-11', [...base, 'scrInletTempC', 'coolantTempC', 'fuelRateLPerH'], {
      gateway: { samplePeriodS: 5 },
      profile: { ...reykjavik, machineClass: 'telehandler', displacementL: 4.5, ratedPowerKW: 95 },
      schedule: [
        start(480),
        light(3600),
        idle(600),
        light(3000, 31),
        work(900, 46),
        idle(400),
        light(3600),
        coolDown(330),
        off(300),
      ],
    }),
  ],
  files: oneFile('recording.csv'),
  absent: [
    none('idle-streak', 'no idle lasts longer than ten minutes'),
    none('hot-shutdown', 'the stop had its cool-down'),
    none('early-load', 'light duty is no heavy load'),
  ],
};

const lateAndDuplicated: Recipe = {
  folder: 'late-and-duplicated',
  title: 'The same samples late, twice and out of order over two files: the answer does not change',
  shows: ['idle-streak', 'hot-shutdown'],
  seed: 105,
  startMs: osloMorning(16),
  machines: [
    machine('loader-13', rich, {
      gateway: { samplePeriodS: 5 },
      schedule: [start(600), work(3600), idle(4000), work(1200, 84), coolDown(20), off(300)],
    }),
  ],
  files: (blocks) => [{ file: 'recording-in-order.csv.gz', blocks }, ...disordered(blocks, 105)],
  sameAnswerFrom: ['recording-in-order.csv.gz'],
  isDisordered: true,
  absent: [none('data-gap', 'what was late did arrive'), none('early-load', 'the start was warmed up')],
  ignore: [coldIsElsewhere, frostIsElsewhere],
};

const brokenSensors: Recipe = {
  folder: 'broken-sensors',
  title: 'Sensors that are missing, stuck or in error: what can still be judged is, and nothing else',
  shows: ['idle-streak', 'hot-shutdown'],
  seed: 106,
  startMs: osloMorning(17),
  machines: [
    machine('excavator-12', [...base, 'exhaustTempC', 'turbineOutTempC', 'coolantTempC', 'fuelRateLPerH'], {
      gateway: { samplePeriodS: 2 },
      profile: { ...oslo, machineClass: 'excavator', displacementL: 9.3, ratedPowerKW: 210 },
      schedule: [start(200), work(3000), idle(4800), work(1500, 82), coolDown(12), off(300)],
      sensorFaults: [
        { channel: 'coolantTempC', kind: 'missing' },
        { channel: 'exhaustTempC', kind: 'error', ratio: 0.4 },
        { channel: 'engineSpeedRpm', kind: 'error', ratio: 0.05 },
        { channel: 'turbineOutTempC', kind: 'stuck', fromS: 1500, toS: 2700 },
        { channel: 'fuelRateLPerH', kind: 'error', ratio: 0.2 },
      ],
    }),
  ],
  // All bits set, read as if it were a temperature: 65535 x 0.03125 - 273.
  files: oneFile('recording.csv.gz', { noValue: { exhaustTempC: 1774.96875 } }),
  absent: [
    none('early-load', 'without coolant temperature nobody can say that the start was cold'),
    none('data-gap', 'single samples without a speed are no gap'),
  ],
  ignore: [coldIsElsewhere],
  idleWithinS: 300,
  hasTotals: false,
};

const gatewayGaps: Recipe = {
  folder: 'gateway-gaps',
  title: 'Coverage holes while the engine runs: the long ones are reported, the run goes on through all of them',
  shows: ['data-gap'],
  seed: 107,
  startMs: osloMorning(18),
  machines: [
    machine('loader-14', rich, {
      gateway: {
        samplePeriodS: 2,
        lostStretches: [
          { fromS: 1500, toS: 1740 },
          { fromS: 3000, toS: 4200 },
          { fromS: 6000, toS: 9000 },
        ],
      },
      schedule: [start(600), work(4800), idle(300), work(5000), coolDown(340), off(300)],
    }),
  ],
  files: (blocks) => [
    { file: 'recording.csv.gz', blocks, options: { time: (timeMs) => String(timeMs) } },
    { file: 'recording-as-columns.parquet', blocks },
  ],
  sameAnswerFrom: ['recording-as-columns.parquet'],
  absent: [
    none('hot-shutdown', 'engine hours prove that it ran through the gaps, and the stop had its cool-down'),
    none('idle-streak', 'silence is not idling'),
  ],
  ignore: [coldIsElsewhere, frostIsElsewhere],
  hasTotals: false,
};

const coldStarts: Recipe = {
  folder: 'cold-starts',
  title: 'Two forwarders on a frosty morning: one is put to work at once, the other is warmed up',
  shows: ['early-load', 'cold-start'],
  seed: 108,
  startMs: osloMorning(19),
  machines: ['forwarder-11', 'forwarder-12'].map((machineId, i) =>
    machine(machineId, rich, {
      gateway: { samplePeriodS: 2 },
      climate: { meanTempC: -4, swingC: 3, daySpreadC: 0 },
      profile: { ...oslo, machineClass: 'forwarder', displacementL: 6.7, ratedPowerKW: 150 },
      schedule: [start(i === 0 ? 45 : 960), work(3000), coolDown(340), off(300)],
    }),
  ),
  // Key on at 06:00:00, running 9 s later; load comes when the start ends. -6 C call for 180 s and 6 s for each kelvin to 20 C.
  alsoExpected: [
    { machineId: 'forwarder-11', warmupS: 36, grade: 'short-warm-up' },
    { machineId: 'forwarder-12', warmupS: 951, grade: 'as-wanted' },
  ].map(({ machineId, warmupS, grade }) => ({
    machineId,
    kind: 'cold-start' as const,
    withinS: 5,
    startedAt: '2026-03-19T05:00:09.000Z',
    severity: 'info' as const,
    values: { warmupS: { about: warmupS, within: 5 }, wantedS: { about: 336, within: 8 }, grade },
  })),
  files: fileEach('recording-at-once.csv.gz', 'recording-warmed-up.csv.gz'),
  absent: [
    { kind: 'early-load', machineId: 'forwarder-12', why: 'a quarter of an hour of warm-up is enough' },
    none('hot-shutdown', 'both stops had their cool-down'),
  ],
};

const causeScrolledAway: Recipe = {
  folder: 'derate-cause-scrolled-away',
  title:
    'Power is taken two hours after watered DEF was found, under a dozen later codes that have nothing to do with it',
  shows: ['derate'],
  seed: 109,
  startMs: scrolledAwayStartMs,
  machines: [scrolledAwayMachine],
  files: (blocks, reports) => [
    { file: 'recording.csv.gz', blocks },
    // A CAN log names no machine: its file does.
    { file: 'dozer-12.log', blocks: [], reports: withBodyCodes('dozer-12', reports) },
  ],
  absent: [none('hot-shutdown', 'the stop had its cool-down'), none('idle-streak', 'four minutes are no streak')],
  ignore: [
    frostIsElsewhere,
    coldIsElsewhere,
    ...(['def-fill', 'def-quality', 'def-low', 'def-consumption', 'def-empty-forecast', 'def-frost'] as const).map(
      (kind): FindingPick => ({ kind, why: 'what the watered DEF does is no matter of this case' }),
    ),
    { kind: 'nox-conversion', why: 'what the watered DEF does is no matter of this case' },
  ],
};

export const recipes: readonly Recipe[] = [
  goodShift,
  longIdles,
  hotStops,
  lightDuty,
  lateAndDuplicated,
  brokenSensors,
  gatewayGaps,
  coldStarts,
  causeScrolledAway,
];

/** What arrived before the late upload in one file, the rest in another, each in the order of arrival. */
function disordered(blocks: readonly SampleBlock[], seed: number): RecordingPlan[] {
  const startMs = osloMorning(16);
  const outage = { fromMs: startMs + 3_000_000, toMs: startMs + 14_400_000 };
  const faults: DeliveryFaults = { packetS: 60, latencyS: 900, duplicateRatio: 0.25, outages: [outage] };
  const packets = blocks.flatMap((block) => deliver(block, faults, seed));
  const early = packets.filter((packet) => packet.arrivesMs < outage.toMs);
  const late = packets.filter((packet) => packet.arrivesMs >= outage.toMs);
  return [
    { file: 'recording-late.csv.gz', blocks: late.map((packet) => packet.block) },
    { file: 'recording-on-time.csv.gz', blocks: early.map((packet) => packet.block) },
  ];
}

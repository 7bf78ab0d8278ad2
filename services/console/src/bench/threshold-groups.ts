/** Thresholds in the groups that the bench page offers them in, with words for each. */

import { type ThresholdName, thresholdNotes } from '@warmbrick/tuning';

export interface ThresholdGroup {
  readonly id: string;
  readonly title: string;
  readonly thresholds: readonly { readonly name: ThresholdName; readonly words: string }[];
}

const of = (entries: Partial<Record<ThresholdName, string>>): ThresholdGroup['thresholds'] =>
  Object.entries(entries).map(([name, words]) => ({ name: name as ThresholdName, words }));

const worded: readonly ThresholdGroup[] = [
  {
    id: 'idling',
    title: 'Idling',
    thresholds: of({
      idleLimitS: 'Idle longer than this is told of',
      idleBlipS: 'Load shorter than this does not end an idle',
      gapBridgeS: 'Silence shorter than this does not end a stretch',
    }),
  },
  {
    id: 'cold-running',
    title: 'Cold running',
    thresholds: of({
      coldLimitS: 'Below the window longer than this is told of',
      coldBlipS: 'Heat shorter than this does not end it',
      coldDeadbandC: 'So far into the window before it ends',
    }),
  },
  {
    id: 'stops',
    title: 'Stops',
    thresholds: of({
      cooldownWantedS: 'Cool-down wanted before key-off',
      cooldownSevereS: 'Severe when shorter than this',
      hotMetalC: 'Turbine metal from which a stop is hot',
      hotMetalSevereC: 'Severe when hotter than this at the stop',
      turbineTauS: 'Time constant of the turbine metal',
      silentStopS: 'Silence after which a stop is assumed',
    }),
  },
  {
    id: 'starts',
    title: 'Starts',
    thresholds: of({
      warmupBaseS: 'Warm-up wanted in mild weather',
      warmupPerKelvinS: 'More for each kelvin of cold',
      warmupMaxS: 'Longest warm-up wanted',
      coldStartCoolantC: 'Coolant from which an engine is warm',
      earlyLoadPct: 'Load that counts as work',
      earlyLoadHoldS: 'Held for so long',
      frostStartC: 'A start below this is a start in frost',
      coldReleaseS: 'Exhaust warm enough to dose within',
    }),
  },
  {
    id: 'regeneration',
    title: 'Regeneration',
    thresholds: of({
      regenBlipS: 'A pause shorter than this does not end one',
      regenFullS: 'Complete when longer than this',
      regenCleanPct: 'Complete when soot falls under this',
      regenInhibitedS: 'Inhibited longer than this is told of',
      regenWaitS: 'Needed longer than this is told of',
    }),
  },
  {
    id: 'def',
    title: 'DEF',
    thresholds: of({
      defStepPct: 'Rise of the level that is a fill',
      defDropPct: 'Fall of the level that is a loss',
      defFillHoldS: 'A level has to hold after a stop',
      defMovingHoldS: 'And while the machine moves',
      defLowPct: 'Low under this',
      defLowClearPct: 'No longer low from this',
      defSeverePct: 'Severe under this',
      defForecastH: 'Told of when fewer hours are left',
      defForecastClearH: 'No longer when there are more',
      defConcentrationLowPct: 'Least urea',
      defConcentrationHighPct: 'Most urea',
      defConcentrationTolerancePct: 'What the sensor may be off',
      defQualityHoldS: 'Outside for so long',
      frostMarginK: 'Colder night than evening',
      defHeaterWaitS: 'The heater has an effect within',
      defThawS: 'The tank is thawed within',
      defDriftRatio: 'Use off its baseline by this share',
      defDriftClearRatio: 'Back within this share',
      defWindowFuelL: 'Judged over so much fuel',
    }),
  },
  {
    id: 'nox-and-air',
    title: 'NOx and air filter',
    thresholds: of({
      noxWarmS: 'Settled after so long at work',
      noxBatchS: 'Judged over so long',
      noxDropRatio: 'Conversion lost that is told of',
      noxClearRatio: 'Back within this',
      airFilterLimitKPa: 'Restriction to change the filter at',
      airFilterNoticeKPa: 'Noted from this',
      airFilterClearKPa: 'No longer under this',
      airFilterFlowRatio: 'Read from this share of rated flow',
      airFilterBatchS: 'Judged over so long',
    }),
  },
  {
    id: 'data',
    title: 'Data and sensors',
    thresholds: of({
      maxHoldS: 'A sample holds at most',
      dataGapS: 'Silence longer than this is told of',
      clockJumpS: 'A jump of the clock larger than this',
      sensorStuckS: 'Stuck when it stands still for so long',
      sensorLoadRangePct: 'While the load varies by this',
      sensorColdC: 'Cold exhaust while running',
      sensorDriftK: 'Off its neighbour by this',
      sensorSwapK: 'Swapped when hotter by this',
      sensorSwapS: 'For so long',
    }),
  },
];

const named = new Set(worded.flatMap((group) => group.thresholds.map(({ name }) => name)));

/** All groups; a threshold that has no words yet stands in the last one by its name, so that none is missing. */
export const thresholdGroups: readonly ThresholdGroup[] = [
  ...worded,
  {
    id: 'others',
    title: 'Others',
    thresholds: thresholdNotes.filter(({ name }) => !named.has(name)).map(({ name }) => ({ name, words: name })),
  },
];

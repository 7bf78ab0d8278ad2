/** One input folded into what is known of its controller. */

import type { FaultCode, FaultReport } from '@warmbrick/signals';
import {
  brighterLamps,
  type EpisodeEnd,
  type FaultEpisode,
  type FaultInput,
  type FaultNotice,
  type FaultOrigin,
  faultEpisodeId,
  faultKey,
  isFaultList,
  unknownLamps,
} from './fault-episode.js';
import type { FaultLogSettings } from './fault-log-settings.js';
import { type CodeState, maxCodesPerController, type OpenEpisode } from './fault-log-state.js';

/** A controller while inputs are folded; its codes are replaced, never changed. */
export interface OpenController {
  lastMs: number;
  listedMs: number | null;
  codes: Record<string, CodeState>;
}

interface Fold {
  readonly settings: FaultLogSettings;
  readonly say: (episode: FaultEpisode) => void;
}

/** Flash byte of a controller that does not say. Source: SAE J1939-73, DM1. */
const noFlash = 255;

interface Sighting {
  readonly machineId: string;
  readonly timeMs: number;
  readonly sourceAddress: number | null;
  readonly code: FaultCode;
  readonly lamps: FaultReport['lamps'];
  readonly flash: number;
  readonly origin: FaultOrigin;
}

/** Folds one input; inputs come in order of time. */
export function foldController(controller: OpenController, input: FaultInput, fold: Fold): void {
  controller.lastMs = input.timeMs;
  if (!isFaultList(input)) foldNotice(controller, input, fold);
  else if (input.kind === 'active') foldActiveList(controller, input, fold);
  else for (const code of input.codes) seePrevious(controller, sightingOf(input, code, 'dm2'), fold);
  forgetOldest(controller);
}

function foldActiveList(controller: OpenController, report: FaultReport, fold: Fold): void {
  const listed = new Set<string>();
  for (const code of report.codes) {
    const sighting = sightingOf(report, code, 'dm1');
    listed.add(keyOf(sighting));
    seeActive(controller, sighting, fold);
  }
  for (const [key, code] of Object.entries(controller.codes)) {
    if (code.open?.form === 'active' && !listed.has(key)) missFrom(controller, key, { report, fold });
  }
  controller.listedMs = report.timeMs;
}

/** A list of the controller is without an open code: it clears when it stays away. */
function missFrom(controller: OpenController, key: string, by: { report: FaultReport; fold: Fold }): void {
  const code = controller.codes[key] as CodeState;
  const open = code.open as OpenEpisode;
  const { machineId, timeMs } = by.report;
  if (open.absentSinceMs === null) {
    controller.codes[key] = { ...code, open: { ...open, absentSinceMs: timeMs } };
  } else if (timeMs - open.absentSinceMs >= by.fold.settings.debounceS * 1000) {
    close(controller, key, { machineId, endedMs: open.absentSinceMs, endedBy: 'list', fold: by.fold });
  }
}

function foldNotice(controller: OpenController, notice: FaultNotice, fold: Fold): void {
  const { machineId, timeMs, spn, fmi, conversionMethod = 0, occurrenceCount = null } = notice;
  const code: FaultCode = { spn, fmi, conversionMethod, occurrenceCount };
  const sighting = sightingOf(notice, code, notice.origin);
  const key = keyOf(sighting);
  const open = controller.codes[key]?.open ?? null;
  if (notice.kind === 'became-active') seeActive(controller, sighting, fold);
  else if (notice.kind === 'occurred') seePoint(controller, sighting, fold);
  else if (open === null || open.form !== 'active') seePrevious(controller, sighting, fold);
  else close(controller, key, { machineId, endedMs: timeMs, endedBy: 'event', fold });
}

function seeActive(controller: OpenController, sighting: Sighting, fold: Fold): void {
  const { machineId, timeMs } = sighting;
  const key = keyOf(sighting);
  let open = controller.codes[key]?.open ?? null;
  const absentMs = open?.absentSinceMs ?? timeMs;
  if (open !== null && timeMs - absentMs >= fold.settings.debounceS * 1000 && open.absentSinceMs !== null) {
    close(controller, key, { machineId, endedMs: absentMs, endedBy: 'list', fold });
    open = null;
  }
  const isJoined = open?.form === 'point' && timeMs - open.lastSeenMs <= fold.settings.occurredJoinS * 1000;
  if (open?.form === 'active' || isJoined) go(controller, sighting, { fold, open, form: 'active' });
  else start(controller, sighting, { fold, form: 'active' });
}

function seePoint(controller: OpenController, sighting: Sighting, fold: Fold): void {
  const open = controller.codes[keyOf(sighting)]?.open ?? null;
  const isJoined = open?.form === 'point' && sighting.timeMs - open.lastSeenMs <= fold.settings.occurredJoinS * 1000;
  if (open?.form === 'active') go(controller, sighting, { fold, open, form: 'active' });
  else if (isJoined) go(controller, sighting, { fold, open, form: 'point' });
  else start(controller, sighting, { fold, form: 'point' });
}

/** Told as previously active: news only when the code was never seen itself. */
function seePrevious(controller: OpenController, sighting: Sighting, fold: Fold): void {
  const known = controller.codes[keyOf(sighting)];
  if (known === undefined) start(controller, sighting, { fold, form: 'previous' });
  else if (known.open?.form === 'previous') {
    go(controller, sighting, { fold, open: known.open, form: 'previous' });
  }
}

function start(controller: OpenController, sighting: Sighting, by: { fold: Fold; form: OpenEpisode['form'] }): void {
  const { code, timeMs, sourceAddress, lamps, flash, origin } = sighting;
  const key = keyOf(sighting);
  const { spn, fmi, conversionMethod } = code;
  const open: OpenEpisode = {
    startedMs: timeMs,
    absentAtMs: controller.listedMs,
    lastSeenMs: timeMs,
    absentSinceMs: null,
    reportedCount: code.occurrenceCount,
    lamps,
    flash,
    origin,
    form: by.form,
  };
  const episodes = (controller.codes[key]?.episodes ?? 0) + 1;
  const state: CodeState = { sourceAddress, spn, fmi, conversionMethod, episodes, open, lastSeenMs: timeMs };
  controller.codes[key] = state;
  by.fold.say(episodeOf(sighting.machineId, state, open));
}

/** The episode goes on. */
function go(
  controller: OpenController,
  sighting: Sighting,
  by: { fold: Fold; open: OpenEpisode | null; form: OpenEpisode['form'] },
): void {
  const key = keyOf(sighting);
  const known = controller.codes[key];
  if (known === undefined || by.open === null) return;
  const { timeMs, code, lamps, flash } = sighting;
  const open: OpenEpisode = {
    ...by.open,
    form: by.form,
    lastSeenMs: timeMs,
    absentSinceMs: null,
    reportedCount: code.occurrenceCount ?? by.open.reportedCount,
    lamps: by.form === 'active' ? brighterLamps(by.open.lamps, lamps) : by.open.lamps,
    flash: flash === noFlash ? by.open.flash : flash,
  };
  const state: CodeState = { ...known, open, lastSeenMs: timeMs };
  controller.codes[key] = state;
  by.fold.say(episodeOf(sighting.machineId, state, open));
}

function close(
  controller: OpenController,
  key: string,
  by: { machineId: string; endedMs: number; endedBy: EpisodeEnd; fold: Fold },
): void {
  const state = controller.codes[key];
  if (state === undefined || state.open === null) return;
  const { endedMs, endedBy } = by;
  by.fold.say({ ...episodeOf(by.machineId, state, state.open), endedMs, endedBy });
  controller.codes[key] = { ...state, open: null };
}

/** An open episode as it stands; what only told that it occurred has ended when it was last told. */
export function episodeOf(machineId: string, code: CodeState, open: OpenEpisode): FaultEpisode {
  const { sourceAddress, spn, fmi, conversionMethod, episodes } = code;
  const { startedMs, absentAtMs, lastSeenMs, reportedCount, lamps, flash, origin, form } = open;
  return {
    id: faultEpisodeId(machineId, code, startedMs),
    machineId,
    spn,
    fmi,
    conversionMethod,
    sourceAddress,
    startedMs,
    absentAtMs,
    endedMs: form === 'active' ? null : lastSeenMs,
    endedBy: form === 'active' ? null : 'unknown',
    lastSeenMs,
    occurrences: episodes,
    reportedCount,
    lamps,
    flash,
    isPreviouslyActiveOnly: form === 'previous',
    origin,
  };
}

function sightingOf(input: FaultInput, code: FaultCode, origin: FaultOrigin): Sighting {
  const { machineId, timeMs, sourceAddress, lamps = unknownLamps, flash = noFlash } = input;
  return { machineId, timeMs, sourceAddress, code, lamps, flash, origin };
}

function keyOf({ sourceAddress, code }: Sighting): string {
  const { spn, fmi, conversionMethod } = code;
  return faultKey({ sourceAddress, spn, fmi, conversionMethod });
}

/** Past the bound, codes that are not active and were seen longest ago are forgotten; their episodes are with the store. */
function forgetOldest(controller: OpenController): void {
  const excess = Object.keys(controller.codes).length - maxCodesPerController;
  if (excess <= 0) return;
  const resting = Object.entries(controller.codes).sort(
    ([keyA, a], [keyB, b]) =>
      Number(a.open?.form === 'active') - Number(b.open?.form === 'active') ||
      a.lastSeenMs - b.lastSeenMs ||
      (keyA < keyB ? -1 : 1),
  );
  for (const [key] of resting.slice(0, excess)) delete controller.codes[key];
}

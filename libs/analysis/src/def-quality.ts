/** Quality of the DEF in the tank, as its sensor sees it. */

import { ammoniaShareRatio } from '@warmbrick/aftertreatment';
import type { DefReading } from './def-reading.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded, roundedOrNull } from './figures.js';

type Fault = 'diesel' | 'unknown-fluid' | 'too-weak' | 'too-strong';

/** A quality that is off. Mutable; plain values. */
export interface DefQualityState {
  /** Minutes in a row that were off, and since when; kind of fault of the last one. */
  badMinutes: number;
  badFromMs: number;
  fault: Fault | 'none';
  /** Mean concentration over them, and of how many minutes. */
  meanPct: number;
  meanMinutes: number;
  goodMinutes: number;
  isOpen: boolean;
}

export const goodQuality: Readonly<DefQualityState> = {
  badMinutes: 0,
  badFromMs: 0,
  fault: 'none',
  meanPct: 0,
  meanMinutes: 0,
  goodMinutes: 0,
  isOpen: false,
};

/** Codes of SPN 3521. Source: domain notes on J1939, 2b; "too weak" is its "concentration too low". */
const faultByState: Readonly<Record<number, Fault>> = {
  0: 'too-strong',
  1: 'too-weak',
  2: 'diesel',
  13: 'unknown-fluid',
};

/**
 * Takes one minute.
 *
 * Off is a concentration outside ISO 22241-1 by more than the sensor's tolerance, or a property state that says so; a
 * finding when it held for `defQualityHoldS`, cleared when it was right for as long.
 * Missing: a minute without either signal changes nothing; nothing is judged while the tank is frozen.
 */
export function foldQuality(
  config: DetectorConfig,
  quality: DefQualityState,
  reading: DefReading,
): DetectorEvent | null {
  const { concentrationPct, propertyState } = reading;
  if (concentrationPct === null && propertyState === null) return null;
  const fault = faultOf(config, concentrationPct, propertyState);
  const wantedMinutes = Math.ceil(config.thresholds.defQualityHoldS / 60);
  if (fault === null) return recover(config, quality, { wantedMinutes, atMs: reading.atMs });
  quality.goodMinutes = 0;
  if (quality.badMinutes === 0) quality.badFromMs = reading.atMs;
  quality.badMinutes++;
  quality.fault = fault;
  if (concentrationPct !== null) {
    quality.meanMinutes++;
    quality.meanPct = rounded(quality.meanPct + (concentrationPct - quality.meanPct) / quality.meanMinutes, 4);
  }
  if (quality.badMinutes >= wantedMinutes) quality.isOpen = true;
  return null;
}

/** The fault that goes on, from the state alone; null when there is none. */
export function openQuality(config: DetectorConfig, quality: Readonly<DefQualityState>): DetectorEvent | null {
  return quality.isOpen ? qualityEvent(config, quality, null) : null;
}

function recover(
  config: DetectorConfig,
  quality: DefQualityState,
  at: { wantedMinutes: number; atMs: number },
): DetectorEvent | null {
  if (!quality.isOpen) {
    if (quality.badMinutes > 0) Object.assign(quality, goodQuality);
    return null;
  }
  quality.goodMinutes++;
  if (quality.goodMinutes < at.wantedMinutes) return null;
  const event = qualityEvent(config, quality, at.atMs);
  Object.assign(quality, goodQuality);
  return event;
}

function faultOf(config: DetectorConfig, concentrationPct: number | null, propertyState: number | null): Fault | null {
  const said = propertyState === null ? undefined : faultByState[propertyState];
  if (said === 'diesel' || said === 'unknown-fluid') return said;
  const { defConcentrationLowPct, defConcentrationHighPct, defConcentrationTolerancePct } = config.thresholds;
  if (concentrationPct !== null) {
    if (concentrationPct < defConcentrationLowPct - defConcentrationTolerancePct) return 'too-weak';
    if (concentrationPct > defConcentrationHighPct + defConcentrationTolerancePct) return 'too-strong';
  }
  return said ?? null;
}

function qualityEvent(
  config: DetectorConfig,
  quality: Readonly<DefQualityState>,
  endedMs: number | null,
): DetectorEvent {
  const { defConcentrationLowPct, defConcentrationHighPct, defConcentrationTolerancePct } = config.thresholds;
  const meanPct = quality.meanMinutes > 0 ? quality.meanPct : null;
  return {
    kind: 'def-quality',
    startedMs: quality.badFromMs,
    endedMs,
    severity: quality.fault === 'diesel' ? 'severe' : 'warning',
    values: {
      why: quality.fault,
      concentrationPct: roundedOrNull(meanPct, 2),
      lowPct: defConcentrationLowPct,
      highPct: defConcentrationHighPct,
      minutes: quality.badMinutes,
    },
    evidence: {
      tolerancePct: defConcentrationTolerancePct,
      ammoniaRatio: meanPct === null ? null : rounded(ammoniaShareRatio(meanPct / 100), 3),
    },
  };
}

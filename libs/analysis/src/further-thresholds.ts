/** Thresholds of the detectors that read channels which only some machines send. */

import { defQualityLimits, inletRestrictionLimitKPa } from '@warmbrick/aftertreatment';
import { setting } from '@warmbrick/signals';

const practice = 'common practice';
const judgement = 'engineering judgement';
const memory = 'from memory';

const second = (value: number, max: number, source: string) => setting(value, { unit: 's', min: 0, max, source });
const batch = (value: number, source: string) => setting(value, { unit: 's', min: 60, max: 7200, source });
const percent = (value: number, source: string) => setting(value, { unit: '%', min: 0, max: 100, source });
const ratio = (value: number, source: string) => setting(value, { unit: '1', min: 0, max: 1, source });
const kelvin = (value: number, source: string) => setting(value, { unit: 'K', min: 0, max: 300, source });
const kPa = (value: number, source: string) => setting(value, { unit: 'kPa', min: 0.5, max: 12, source });
const hour = (value: number, source: string) => setting(value, { unit: 'h', min: 0, max: 500, source });

/** Settings by name; part of every threshold set. */
export const furtherThresholds = {
  regenBlipS: second(60, 600, judgement),
  regenFullS: second(900, 7200, `active regenerations take 20-30 min, ${memory}`),
  regenCleanPct: percent(40, judgement),
  regenInhibitedS: second(1800, 86_400, judgement),
  regenWaitS: second(3600, 86_400, judgement),
  defStepPct: percent(5, `${judgement}: above what a tank sloshes in the mean of a minute`),
  defDropPct: percent(8, judgement),
  defFillHoldS: second(180, 3600, judgement),
  defMovingHoldS: second(900, 7200, `${judgement}: longer than a machine stands or drives on a slope`),
  defLowPct: percent(10, `${practice}: under 10 % power is reduced`),
  defLowClearPct: percent(15, judgement),
  defSeverePct: percent(2.5, `low-level inducement of Stage V, ${memory}`),
  defForecastH: hour(8, `${judgement}: a shift`),
  defForecastClearH: hour(12, judgement),
  defConcentrationLowPct: percent(defQualityLimits.ureaPct.min, 'ISO 22241-1:2019 table 1'),
  defConcentrationHighPct: percent(defQualityLimits.ureaPct.max, 'ISO 22241-1:2019 table 1'),
  defConcentrationTolerancePct: percent(1.5, `sensors in the tank are good to 1-2 %, ${memory}`),
  defQualityHoldS: second(600, 7200, judgement),
  frostMarginK: kelvin(3, `${judgement}: a night is colder than the evening`),
  defHeaterWaitS: second(1800, 7200, judgement),
  defThawS: second(4200, 14_400, `dosing within 70 min of a cold start, ${memory}`),
  defDriftRatio: ratio(0.25, judgement),
  defDriftClearRatio: ratio(0.15, judgement),
  defWindowFuelL: setting(40, { unit: 'L', min: 1, max: 1000, source: `${judgement}: about three hours of work` }),
  noxWarmS: second(600, 7200, `${judgement}: about five time constants of the bricks at work`),
  noxBatchS: batch(600, judgement),
  noxDropRatio: ratio(0.1, `${judgement}: sensors are good to 10-15 ppm`),
  noxClearRatio: ratio(0.05, judgement),
  airFilterLimitKPa: kPa(inletRestrictionLimitKPa, 'US Army TM 5-3820-256-24-5: 25 inH2O at rated flow'),
  airFilterNoticeKPa: kPa(5, 'usual change point 20-25 inH2O, domain notes section 10'),
  airFilterClearKPa: kPa(4.5, judgement),
  airFilterFlowRatio: setting(0.6, {
    unit: '1',
    min: 0.3,
    max: 1,
    source: `${judgement}: indicators read at full flow`,
  }),
  airFilterBatchS: batch(600, judgement),
  sensorStuckS: second(1800, 14_400, judgement),
  sensorLoadRangePct: percent(20, judgement),
  sensorColdC: setting(60, { unit: 'degC', min: 0, max: 150, source: 'idle exhaust is 110-150 C, domain notes 5.2' }),
  sensorDriftK: kelvin(40, judgement),
  sensorSwapK: kelvin(30, judgement),
  sensorSwapS: second(900, 14_400, `${judgement}: bricks settle within minutes at work`),
  coolantStuckS: second(1200, 14_400, `${judgement}: any engine warms in that time`),
  coolantWarmS: second(2400, 14_400, `${judgement}: loaded running after which every engine is warm`),
  coolantColdC: setting(50, { unit: 'degC', min: 0, max: 80, source: 'engines run at 80-95 C, common practice' }),
  coolantDriftK: kelvin(15, `${judgement}: a thermostat holds within 10 K`),
  frostStartC: setting(0, { unit: 'degC', min: -40, max: 40, source: judgement }),
  coldReleaseS: second(4200, 14_400, `dosing within 70 min of a cold start, ${memory}`),
  derateTorqueRatio: ratio(0.15, `${judgement}: legal steps take a quarter of the torque at least`),
  derateTorqueClearRatio: ratio(0.08, judgement),
  derateRequestPct: percent(5, judgement),
  derateHoldS: second(180, 3600, judgement),
  derateClearS: second(180, 3600, judgement),
  derateModeS: second(600, 7200, `${judgement}: engines limit torque for moments all the time`),
  derateLearnS: second(1200, 14_400, judgement),
};

/** The rules that hold until somebody changes them: one for everything the analysis finds that a person should hear of. */

import { nearStepH } from '@warmbrick/analysis';
import { type Rule, type RuleInput, ruleSchema } from './rule.js';

const minuteS = 60;
const hourS = 3600;
const dayS = 86_400;

const practice = 'common practice';
const judgement = 'engineering judgement';

const hotCaution =
  'Exhaust and filter get very hot: park and secure the machine away from people and anything that burns. The ' +
  "manufacturer's manual and local rules come first.";
const parkCaution = "Park and secure the machine before anybody works on it. The manufacturer's manual comes first.";

const inputs: readonly RuleInput[] = [
  {
    id: 'idle-over-an-hour',
    title: 'Idle for over an hour',
    when: { finding: 'idle-streak' },
    offDelayS: 0,
    escalation: [{ afterS: 30 * minuteS, to: 'site lead' }],
    advice: 'Have the machine switched off, or put to work.',
    source: `${practice}: not over one hour at a stretch; the limit is the threshold idleLimitS`,
  },
  {
    id: 'soot-risk-high',
    title: 'Soot risk high',
    when: { figure: 'score', atLeast: 60, clearBelow: 50 },
    severity: 'warning',
    severitySteps: [
      { at: 60, severity: 'warning' },
      { at: 80, severity: 'severe' },
    ],
    onDelayS: 10 * minuteS,
    offDelayS: 30 * minuteS,
    advice: 'Work the machine hot, or plan a regeneration, as its page says.',
    caution: hotCaution,
    source: `${judgement}: 60 of 100 points are two parts of the score near their limits`,
  },
  {
    id: 'soot-risk-rising',
    title: 'Soot risk rises fast',
    when: { rising: 'score', by: 20, withinS: dayS },
    severity: 'notice',
    onDelayS: 15 * minuteS,
    offDelayS: hourS,
    source: `${judgement}: 20 points in a day reach the high level within days`,
  },
  {
    id: 'hot-stop',
    title: 'Switched off hot',
    when: { finding: 'hot-shutdown', leastSeverity: 'warning' },
    isLatched: true,
    releaseAfterS: 12 * hourS,
    // Where the gateway loses power with the key, the stop is known only at the next start.
    latenessS: 12 * hourS,
    pagesFrom: 'severe',
    advice: 'Tell the operator: about five minutes at base idle without load before the key.',
    source: `${practice}: about five minutes at base idle`,
  },
  {
    id: 'loaded-cold',
    title: 'Loaded before it was warm',
    when: { finding: 'early-load', leastSeverity: 'warning' },
    isLatched: true,
    releaseAfterS: 12 * hourS,
    pagesFrom: 'severe',
    source: `${practice}: warm up before load`,
  },
  {
    id: 'cold-running',
    title: 'Runs too cold for long',
    when: { finding: 'cold-dwell', leastSeverity: 'warning' },
    offDelayS: 10 * minuteS,
    pagesFrom: 'severe',
    advice: 'Give it work that keeps the exhaust in its window, or switch it off.',
    source: `${practice}: low load counts as cold running too; limit by the threshold coldLimitS`,
  },
  {
    id: 'def-low',
    title: 'DEF under 10 %',
    when: { finding: 'def-low', where: [{ value: 'levelPct', atMost: 10, clearAbove: 15 }] },
    offDelayS: 5 * minuteS,
    escalation: [{ afterS: 2 * hourS, to: 'site lead' }],
    advice: 'Fill DEF of ISO 22241 quality; leave some room in frost.',
    source: 'common practice: most machines warn at about 10 %; limit by the threshold defLowPct',
  },
  {
    id: 'def-runs-out',
    title: 'DEF runs out soon',
    when: { finding: 'def-empty-forecast', where: [{ value: 'hoursLow', atMost: 8, clearAbove: 12 }] },
    severity: 'warning',
    onDelayS: 10 * minuteS,
    offDelayS: 30 * minuteS,
    advice: 'Plan a fill before the shift is over.',
    source: `${judgement}: one shift of eight hours, by the early end of the forecast`,
  },
  {
    id: 'def-frost-tonight',
    title: 'DEF may freeze tonight',
    when: { finding: 'def-frost' },
    isLatched: true,
    releaseAfterS: 16 * hourS,
    latenessS: 4 * hourS,
    advice: 'Below -11 C leave about a quarter of the tank free of DEF; never over 93 % full.',
    source: 'ISO 22241-1: freezes at -11 C; fill levels: domain notes',
    pagesFrom: 'notice',
  },
  {
    id: 'def-quality',
    title: 'DEF quality suspect',
    when: { finding: 'def-quality' },
    offDelayS: 30 * minuteS,
    advice: 'Take a sample, and check the batch before anybody else fills from it.',
    caution: parkCaution,
    source: 'ISO 22241-1: 31.8 to 33.2 % urea; limits by the threshold set',
  },
  {
    id: 'def-lost',
    title: 'DEF gone from the tank',
    // A full or an empty scale is a notice: that may be the sensor.
    when: { finding: 'def-drop', leastSeverity: 'warning' },
    isLatched: true,
    releaseAfterS: dayS,
    latenessS: 12 * hourS,
    advice: 'Look for a leak, and ask who has drawn from the tank.',
    caution: 'DEF is corrosive to some metals; rinse what it has wetted with water.',
    source: `${judgement}: limit by the threshold defDropPct`,
  },
  {
    id: 'def-consumption',
    title: 'DEF consumption off its baseline',
    when: { finding: 'def-consumption' },
    offDelayS: hourS,
    pagesFrom: 'severe',
    source: `${judgement}: limit by the threshold defDriftRatio`,
  },
  {
    id: 'def-heater',
    title: 'DEF heater does not warm',
    when: { finding: 'def-heater' },
    offDelayS: 10 * minuteS,
    caution: parkCaution,
    source: `${judgement}: limits by the thresholds defHeaterWaitS and defThawS`,
  },
  {
    id: 'regeneration-aborted',
    title: 'Regeneration aborted',
    when: { finding: 'regeneration', where: [{ value: 'outcome', is: 'aborted' }] },
    isLatched: true,
    releaseAfterS: 12 * hourS,
    latenessS: hourS,
    advice: 'Find out why; let the next one end.',
    caution: hotCaution,
    source: practice,
  },
  {
    id: 'regeneration-inhibited',
    title: 'Regeneration held back',
    when: { finding: 'regeneration-inhibited' },
    offDelayS: 10 * minuteS,
    advice: 'Release the inhibit switch where it is safe, or park and start one by hand.',
    caution: hotCaution,
    source: `${practice}; limit by the threshold regenInhibitedS`,
  },
  {
    id: 'derate',
    title: 'Machine has lost power',
    when: { finding: 'derate' },
    onDelayS: 2 * minuteS,
    offDelayS: 10 * minuteS,
    escalation: [{ afterS: hourS, to: 'workshop' }],
    advice: 'Open the derate inquiry of the machine; have the fault that began it seen to before the next step.',
    caution: parkCaution,
    source: `${judgement}: two minutes are longer than a moment of torque limiting`,
  },
  {
    id: 'inducement-step-near',
    title: 'Next inducement step near',
    // A warning is a step within four engine hours, or one that is in force. Once raised it stays until the fault has cleared.
    when: { finding: 'inducement-step', leastSeverity: 'warning' },
    escalation: [{ afterS: hourS, to: 'workshop' }],
    advice: 'Have the fault repaired before the step; its page has the codes and what clears the clock.',
    caution: `A forecast from a general table: the machine and its manual decide. An inducement may not be defeated. ${parkCaution}`,
    source: `${judgement}: ${nearStepH} engine hours are half a shift, time to bring somebody`,
  },
  {
    id: 'service-overdue',
    title: 'Service overdue',
    when: { finding: 'service-overdue' },
    // Found by the clock: silence of the machine says nothing about it.
    unknownAfterS: 30 * dayS,
    pagesFrom: 'severe',
    advice: 'Plan the work with the next stop.',
    caution: parkCaution,
    source: "the machine's own intervals",
  },
  {
    id: 'nox-conversion-low',
    title: 'NOx conversion has fallen',
    when: { finding: 'nox-conversion' },
    offDelayS: hourS,
    pagesFrom: 'severe',
    source: `${judgement}: limit by the threshold noxDropRatio`,
  },
  {
    id: 'air-filter',
    title: 'Air filter clogged',
    when: { finding: 'air-filter', leastSeverity: 'warning' },
    offDelayS: hourS,
    pagesFrom: 'severe',
    caution: parkCaution,
    source: 'domain notes: restriction limit by the threshold airFilterLimitKPa',
  },
  {
    id: 'sensor-suspect',
    title: 'Sensor suspect',
    when: { finding: 'sensor-suspect' },
    onDelayS: 5 * minuteS,
    offDelayS: hourS,
    pagesFrom: 'severe',
    advice: 'What depends on it is not judged until it is checked.',
    source: `${judgement}: limits by the threshold set`,
  },
  {
    id: 'machine-silent',
    title: 'Machine silent',
    when: { silentS: 3 * dayS },
    severity: 'notice',
    source: `${judgement}: longer than a weekend without work`,
  },
];

/** All of them, with defaults filled in. */
export const builtInRules: readonly Rule[] = inputs.map((input) => ruleSchema.parse(input));

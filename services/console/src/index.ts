/** The pure parts of the pages, for tests: what they say and draw, without a browser. */

export { countStandings, groupAlerts, standingOf, withMessage } from './alerts/alert-groups.js';
export { conditionWords, noticeWords, stepSentence } from './alerts/alert-words.js';
export { draftOf, emptyDraft, idOf, ruleOf } from './alerts/rule-draft.js';
export { habitWords, whenWords } from './alerts/rule-words.js';
export { coursePaths } from './course/brick-paths.js';
export { hourMarks } from './course/hour-marks.js';
export { layBricks } from './course/lay-bricks.js';
export { residencyShares } from './course/residency-shares.js';
export { concernWords, countConcerns, hasConcern, matchesSearch } from './fleet/fleet-summary.js';
export { formatDuration, formatHours } from './format/duration.js';
export { countWords, findingLengthS, findingSentence, kindName, severityRank } from './format/finding-words.js';
export { freshness, silentAfterMs } from './format/freshness.js';
export {
  formatClock,
  formatDay,
  formatInstant,
  formatInstantShort,
  minuteOfDay,
  zoneLabel,
  zoneOf,
} from './format/instant.js';
export { cleanRatio, loadWords } from './format/load-words.js';
export { modeWords } from './format/mode-words.js';
export { defWords, figureValue, standingWords, suspectWords } from './format/outlook-words.js';
export { evidenceWords, partLook, partNames, partOrder, partWords, riskBand } from './format/score-words.js';
export { formatNumber, formatQuantity, viewUnit } from './format/unit-system.js';
export { valueWords } from './format/value-words.js';
export { histogramBars } from './machine/histogram-bars.js';
export { courseReach, loadCourse } from './machine/load-course.js';
export { partShape } from './parts/part-shape.js';
export { findingMarks } from './record/finding-marks.js';
export { plotColumns } from './record/plot-columns.js';
export { exhaustChannels, mainExhaustChannel, panelChoices, panelKeys, panelQuery } from './record/record-channels.js';
export { rangeAround, rangeFromQuery, rangeToQuery, shiftRange, zoomRange } from './record/time-range.js';

/**
 * Every operation of the API as a typed function, and the types of what it takes and gives.
 *
 * Made from services/alerts-api/openapi.json by `npm run client:make`; not written by hand.
 */

import { type CallOptions, call, type Fetched, send } from './call.js';

export type NewDestinationInput = ({
kind: "webhook"
address: string
name: string
fleetId?: string
leastSeverity?: ("info" | "notice" | "warning" | "severe")
sites?: string[]
machineIds?: string[]
rules?: string[]
quiet?: ({
timeZone: string
from: string
to: string
} | null)
includesPast?: boolean
isEnabled?: boolean
} | {
kind: "mail"
address: string
digestMinutes?: (number | null)
name: string
fleetId?: string
leastSeverity?: ("info" | "notice" | "warning" | "severe")
sites?: string[]
machineIds?: string[]
rules?: string[]
quiet?: ({
timeZone: string
from: string
to: string
} | null)
includesPast?: boolean
isEnabled?: boolean
} | {
kind: "mqtt"
address: string
name: string
fleetId?: string
leastSeverity?: ("info" | "notice" | "warning" | "severe")
sites?: string[]
machineIds?: string[]
rules?: string[]
quiet?: ({
timeZone: string
from: string
to: string
} | null)
includesPast?: boolean
isEnabled?: boolean
})
export type ServiceImportInput = {
item: string
at: string
engineHours?: (number | null)
note?: string
by?: string
machineId: string
}[]
export type PostKeyRotateBody = ({
overlapS?: number
} | null)
export type PostTelemetryBody = (((SampleMessageInput | PacketMessageInput | FrameMessageInput) | (SampleMessageInput | PacketMessageInput | FrameMessageInput)[]) | string)
export type PostFaultsBody = ((FaultMessageInput | FaultMessageInput[]) | string)
export interface ApiTypes {
}
export interface Alert {
episodeId: string
machineId: string
rule: string
title: string
text: string
advice: (string | null)
caution: (string | null)
condition: ("clear" | "qualifying" | "active" | "releasing" | "unknown")
severity: ("info" | "notice" | "warning" | "severe")
group: {
key: string
site: (string | null)
machineName: string
machineClass: string
timeZone: string
}
startedAt: string
endedAt: (string | null)
learnedAt: (string | null)
isPast: boolean
isWithdrawn: boolean
sequence: number
isAcknowledged: boolean
acknowledgedBy: (string | null)
acknowledgedAt: (string | null)
assignee: (string | null)
shelvedUntil: (string | null)
shelvedBy: (string | null)
shelveReason: (string | null)
suppression: ("none" | "suppressed-by-design" | "out-of-service")
suppressionReason: (string | null)
escalationLevel: number
findingId: (string | null)
figures: {
[k: string]: number | boolean | string | null
}
thresholdSet: (string | null)
}
export interface AlertDetail {
episodeId: string
machineId: string
rule: string
title: string
text: string
advice: (string | null)
caution: (string | null)
condition: ("clear" | "qualifying" | "active" | "releasing" | "unknown")
severity: ("info" | "notice" | "warning" | "severe")
group: {
key: string
site: (string | null)
machineName: string
machineClass: string
timeZone: string
}
startedAt: string
endedAt: (string | null)
learnedAt: (string | null)
isPast: boolean
isWithdrawn: boolean
sequence: number
isAcknowledged: boolean
acknowledgedBy: (string | null)
acknowledgedAt: (string | null)
assignee: (string | null)
shelvedUntil: (string | null)
shelvedBy: (string | null)
shelveReason: (string | null)
suppression: ("none" | "suppressed-by-design" | "out-of-service")
suppressionReason: (string | null)
escalationLevel: number
findingId: (string | null)
figures: {
[k: string]: number | boolean | string | null
}
thresholdSet: (string | null)
events: AlertMessage[]
}
export interface AlertMessage {
machineId: string
episodeId: string
sequence: number
step: ("opened" | "worsened" | "eased" | "unknown" | "known" | "caught-up" | "closed" | "corrected" | "withdrawn" | "reopened" | "escalated" | "acknowledged" | "assigned" | "shelved" | "unshelved" | "commented" | "suppressed" | "unsuppressed")
notice: ("page" | "inform" | "quiet")
quietBecause: (("past" | "shelved" | "suppressed-by-design" | "out-of-service" | "acknowledged") | null)
rule: string
title: string
text: string
advice: (string | null)
caution: (string | null)
severity: ("info" | "notice" | "warning" | "severe")
from: ("clear" | "qualifying" | "active" | "releasing" | "unknown")
to: ("clear" | "qualifying" | "active" | "releasing" | "unknown")
group: {
key: string
site: (string | null)
machineName: string
machineClass: string
timeZone: string
}
isAcknowledged: boolean
acknowledgedBy: (string | null)
assignee: (string | null)
shelvedUntil: (string | null)
suppression: ("none" | "suppressed-by-design" | "out-of-service")
escalationLevel: number
escalateTo: (string | null)
startedAt: string
endedAt: (string | null)
at: string
learnedAt: string
durationS: number
isPast: boolean
isWithdrawn: boolean
corrects: (number | null)
actor: (string | null)
note: (string | null)
findingId: (string | null)
figures: {
[k: string]: number | boolean | string | null
}
thresholdSet: (string | null)
links: {
alert: string
page: string
machine: string
}
}
export interface AlertRule {
id: string
title: string
when: ({
finding: ("engine-run" | "idle-streak" | "cold-dwell" | "hot-shutdown" | "early-load" | "data-gap" | "regeneration" | "regeneration-inhibited" | "def-fill" | "def-drop" | "def-low" | "def-empty-forecast" | "def-consumption" | "def-quality" | "def-frost" | "def-heater" | "nox-conversion" | "air-filter" | "sensor-suspect" | "cold-start" | "derate" | "service-overdue" | "inducement-step")
leastSeverity: ("info" | "notice" | "warning" | "severe")
where: {
value: string
atLeast?: number
clearBelow?: number
atMost?: number
clearAbove?: number
is?: (string | boolean)
anyOf?: string[]
}[]
} | {
figure: ("score" | "score.confidence" | "score.soot-load" | "score.deposits" | "score.cold-running" | "score.idling" | "score.hot-stops" | "sootRatio" | "depositRatio" | "hoursToLimit" | "minutesUntilClean" | "coverageRatio" | "longestIdleS" | "hotShutdowns" | "idleRatio" | "belowReleaseRatio")
atLeast?: number
clearBelow?: number
atMost?: number
clearAbove?: number
} | {
rising: ("score" | "score.confidence" | "score.soot-load" | "score.deposits" | "score.cold-running" | "score.idling" | "score.hot-stops" | "sootRatio" | "depositRatio" | "hoursToLimit" | "minutesUntilClean" | "coverageRatio" | "longestIdleS" | "hotShutdowns" | "idleRatio" | "belowReleaseRatio")
by: number
withinS: number
} | {
silentS: number
})
severity: ("info" | "notice" | "warning" | "severe" | "as-found")
severitySteps: {
at: number
severity: ("info" | "notice" | "warning" | "severe")
}[]
onDelayS: number
offDelayS: number
isLatched: boolean
releaseAfterS: number
latenessS: number
unknownAfterS: number
during: ("always" | "in-shift" | "out-of-shift")
pagesFrom: ("info" | "notice" | "warning" | "severe")
escalation: {
afterS: number
to: string
}[]
appliesTo: {
fleets: string[]
sites: string[]
classes: string[]
machines: string[]
}
advice: (string | null)
caution: (string | null)
source: string
isEnabled: boolean
}
export interface ApiKey {
keyId: string
name: string
role: ("viewer" | "analyst" | "engineer" | "admin")
fleets: ("all" | string[])
createdAt: string
createdBy: string
expiresAt: (string | null)
revokedAt: (string | null)
lastUsedAt: (string | null)
state: ("live" | "expired" | "revoked")
secrets: {
hint: string
madeAt: string
until: (string | null)
}[]
}
export interface ArchivedDays {
items: {
day: string
from: string
to: string
samples: number
}[]
nextCursor: (string | null)
}
export interface AuditEntry {
number: number
at: string
actorId: string
actorName: string
action: string
target: string
fleetId: (string | null)
detail: string
hash: string
}
export interface Caller {
keyId: string
name: string
role: ("viewer" | "analyst" | "engineer" | "admin")
fleets: ("all" | string[])
isSignedIn: boolean
}
export interface ChangeCountsInput {
before: number
after: number
appears: number
vanishes: number
moves: number
changes: number
}
export interface Comparison {
machineId: string
group: string
from: string
to: string
peers: number
hasMorePeers: boolean
figures: {
name: ("idle-share" | "too-cold-share" | "below-release-share" | "fuel-l-per-h" | "long-idles-per-day" | "hot-stops-per-run")
value: (number | null)
groupSize: number
groupMedian: (number | null)
lowerQuartile: (number | null)
upperQuartile: (number | null)
percentile: (number | null)
standing: ("usual" | "high" | "low" | "too-few" | "unknown")
change: ({
since: string
meanBefore: number
meanAfter: number
} | null)
}[]
}
export interface ComparisonDocumentInput {
isEqual: boolean
sets: {
before: string
after: string
}
thresholds: {
[k: string]: {
before: number
after: number
}
}
totals: ChangeCountsInput
byKind: {
[k: string]: ChangeCountsInput
}
byClass: {
[k: string]: ChangeCountsInput
}
alerts: ({
[k: string]: {
before: number
after: number
}
} | null)
outcomes: ({
before: OutcomeInput
after: OutcomeInput
} | null)
machines: {
machineId: string
machineClass: string
isEqual: boolean
samples: number
score: {
before: (number | null)
after: (number | null)
}
residency: {
[k: string]: {
before: number
after: number
}
}
changes: FindingChangeInput[]
}[]
}
export interface OutcomeInput {
labels: number
hits: number
misses: number
raised: number
falseAlarms: number
figures: {
[k: string]: {
value: (number | null)
low: (number | null)
high: (number | null)
}
}
}
export interface FindingChangeInput {
type: ("appears" | "vanishes" | "moves" | "changes")
kind: ("engine-run" | "idle-streak" | "cold-dwell" | "hot-shutdown" | "early-load" | "data-gap" | "regeneration" | "regeneration-inhibited" | "def-fill" | "def-drop" | "def-low" | "def-empty-forecast" | "def-consumption" | "def-quality" | "def-frost" | "def-heater" | "nox-conversion" | "air-filter" | "sensor-suspect" | "cold-start" | "derate" | "service-overdue" | "inducement-step")
before: (TrialFindingInput | null)
after: (TrialFindingInput | null)
fields: string[]
}
export interface TrialFindingInput {
id: string
machineId: string
kind: ("engine-run" | "idle-streak" | "cold-dwell" | "hot-shutdown" | "early-load" | "data-gap" | "regeneration" | "regeneration-inhibited" | "def-fill" | "def-drop" | "def-low" | "def-empty-forecast" | "def-consumption" | "def-quality" | "def-frost" | "def-heater" | "nox-conversion" | "air-filter" | "sensor-suspect" | "cold-start" | "derate" | "service-overdue" | "inducement-step")
startedAt: string
endedAt: (string | null)
severity: ("info" | "notice" | "warning" | "severe")
values: {
[k: string]: number | boolean | string | null
}
evidence: {
[k: string]: number | boolean | string | null
}
thresholdSet: string
raisedAt: string
}
export interface DayStrip {
startedAt: string
bucketS: number
runningS: number[]
idleS: number[]
belowReleaseS: number[]
belowS: number[]
inS: number[]
aboveS: number[]
unobservedS: number[]
}
export interface DefBatch {
id: string
name: string
fleetId: string
site: (string | null)
purchasedOn: string
storageTempC: number
quantityL: number
leftL: number
note: string
recordedBy: string
recordedAt: string
usedRatio: number
goodUntil: string
state: ("good" | "use-soon" | "past")
isTooWarm: boolean
}
export interface DefBatchTrace {
batch: string
machines: {
machineId: string
filledAt: string
lostAt: (string | null)
}[]
lostCount: number
otherCount: number
otherLostCount: number
chanceRatio: number
isSuspect: boolean
}
export interface DefOutlook {
levelPct: number
tankL: number
limitPct: number
learnedHours: number
useLPerH: (number | null)
spreadLPerH: (number | null)
usedBy: ("dosing" | "fuel")
hoursToLimit: (number | null)
hoursToLimitLow: (number | null)
hoursToLimitHigh: (number | null)
tankTempC: (number | null)
ambientTempC: (number | null)
overnight: ("no-frost" | "burst-risk" | "fuller-than-needed" | "about-a-quarter" | "too-low" | "unknown")
marginK: number
}
export interface DefOutlookAnswer {
machineId: string
asOf: string
outlook: (DefOutlook | null)
levelsAhead: {
hours: number
levelPct: number
lowPct: number
highPct: number
}[]
}
export interface Delivery {
id: string
destinationId: string
machineId: string
episodeId: string
subject: string
state: ("waiting" | "sent" | "dead")
attempts: number
createdAt: string
firstTriedAt: (string | null)
sentAt: (string | null)
dueAt: (string | null)
}
export interface DerateDetail {
id: string
machineId: string
startedAt: string
endedAt: (string | null)
level: ("unclear" | "low" | "severe")
signs: ("inducement-severity" | "torque-limit" | "derate-request" | "torque-mode" | "derate-code" | "inducement-code" | "configured-code")[]
saidClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
peakSeverity: (number | null)
leastTorqueRatio: (number | null)
lostPowerKW: (number | null)
runningH: (number | null)
lostH: (number | null)
inquiry: (DerateInquiry | null)
isWithdrawn: boolean
history: {
revision: number
madeAt: string
changes: string[]
verdict: ("found" | "several" | "unknown")
summary: string
}[]
clocks: InducementClock[]
}
export interface DerateInquiry {
verdict: ("found" | "several" | "unknown")
confidence: number
summary: string
origins: OriginCandidate[]
checkFirst: string[]
doNot: string[]
suspectSensors: {
channel: string
why: string
}[]
notes: Evidence[]
}
export interface OriginCandidate {
faultId: string
spn: number
fmi: number
sourceAddress: (number | null)
spnWords: string
fmiWords: string
wordsFrom: ("standard" | "fleet" | "maker-range" | "unknown")
isConsequence: boolean
inducementClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
startedAt: string
endedAt: (string | null)
rank: number
likelihood: number
isOrigin: boolean
evidence: Evidence[]
}
export interface Evidence {
kind: ("precedence" | "capability" | "class" | "schedule" | "still-active" | "recurrence" | "consequence" | "signal" | "sensor" | "clock" | "coverage")
text: string
supports: (boolean | null)
figures: {
[k: string]: number | boolean | string | null
}
}
export interface InducementClock {
scheduleId: string
title: string
source: string
fromMemory: boolean
caution: string
lines: {
inducementClass: ("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other")
faultIds: string[]
startedAt: string
activeH: number
isUpperBound: boolean
isRepeat: boolean
steps: {
text: string
level: ("warning" | "low" | "severe")
hoursLeft: (number | null)
atLevelPct: (number | null)
torqueCutRatio: (number | null)
isIdleOnly: boolean
isReached: boolean
fromMemory: boolean
}[]
clears: string
}[]
}
export interface Destination {
id: string
kind: ("webhook" | "mail" | "mqtt")
address: string
name: string
fleetId: string
leastSeverity: ("info" | "notice" | "warning" | "severe")
sites: string[]
machineIds: string[]
rules: string[]
quiet: ({
timeZone: string
from: string
to: string
} | null)
digestMinutes: (number | null)
includesPast: boolean
isEnabled: boolean
liveSecrets: number
}
export interface DestinationWithSecret {
id: string
kind: ("webhook" | "mail" | "mqtt")
address: string
name: string
fleetId: string
leastSeverity: ("info" | "notice" | "warning" | "severe")
sites: string[]
machineIds: string[]
rules: string[]
quiet: ({
timeZone: string
from: string
to: string
} | null)
digestMinutes: (number | null)
includesPast: boolean
isEnabled: boolean
liveSecrets: number
secret: (string | null)
}
export interface FaultEntry {
id: string
at: string
spn: number
fmi: number
sourceAddress: (number | null)
what: ("became-active" | "became-inactive" | "occurred")
note: (string | null)
typedBy: string
typedAt: string
}
export interface FaultEntryBodyInput {
id?: string
at: string
spn: number
fmi: number
sourceAddress?: (number | null)
what?: ("became-active" | "became-inactive" | "occurred")
occurrenceCount?: (number | null)
note?: (string | null)
}
export interface FaultEpisode {
id: string
startedAt: string
endedAt: (string | null)
endedBy: (("list" | "event" | "unknown") | null)
lastSeenAt: string
origin: ("dm1" | "dm2" | "event" | "feed" | "typed")
isPreviouslyActiveOnly: boolean
}
export interface FaultLine {
code: string
spn: number
fmi: number
sourceAddress: (number | null)
spnWords: string
fmiWords: string
wordsFrom: ("standard" | "fleet" | "maker-range" | "unknown")
isConsequence: boolean
inducementClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
conversionMethod: (0 | 1)
occurrences: number
reportedCount: (number | null)
firstAt: string
lastAt: string
isActive: boolean
lamps: {
malfunction: ("off" | "on" | "reserved" | "unavailable")
redStop: ("off" | "on" | "reserved" | "unavailable")
amberWarning: ("off" | "on" | "reserved" | "unavailable")
protect: ("off" | "on" | "reserved" | "unavailable")
}
flash: number
episodes: FaultEpisode[]
}
export interface FaultMessageInput {
machineId: string
time: (number | string)
sourceAddress: number
kind: ("active" | "previously-active")
lamps?: {
malfunction: ("off" | "on" | "reserved" | "unavailable")
redStop: ("off" | "on" | "reserved" | "unavailable")
amberWarning: ("off" | "on" | "reserved" | "unavailable")
protect: ("off" | "on" | "reserved" | "unavailable")
}
flash?: number
codes: {
spn: number
fmi: number
occurrenceCount?: (number | null)
conversionMethod?: (0 | 1)
}[]
isPartial?: true
}
export interface FaultTextsBodyInput {
items: {
spn: number
fmi?: (number | null)
text: string
inducementClass?: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
isDerateCode?: boolean
derates?: ("usually" | "may" | "never")
checkFirst?: string
}[]
}
export interface Finding {
id: string
machineId: string
kind: ("engine-run" | "idle-streak" | "cold-dwell" | "hot-shutdown" | "early-load" | "data-gap" | "regeneration" | "regeneration-inhibited" | "def-fill" | "def-drop" | "def-low" | "def-empty-forecast" | "def-consumption" | "def-quality" | "def-frost" | "def-heater" | "nox-conversion" | "air-filter" | "sensor-suspect" | "cold-start" | "derate" | "service-overdue" | "inducement-step")
startedAt: string
endedAt: (string | null)
severity: ("info" | "notice" | "warning" | "severe")
values: {
[k: string]: number | boolean | string | null
}
evidence: {
[k: string]: number | boolean | string | null
}
thresholdSet: string
}
export interface Fleet {
fleetId: string
name: string
createdAt: string
machines: number
}
export interface FrameMessageInput {
machineId: string
bus?: string
frames: {
time: (number | string)
id: (number | string)
data: string
}[]
}
export interface FreshApiKey {
keyId: string
name: string
role: ("viewer" | "analyst" | "engineer" | "admin")
fleets: ("all" | string[])
createdAt: string
createdBy: string
expiresAt: (string | null)
revokedAt: (string | null)
lastUsedAt: (string | null)
state: ("live" | "expired" | "revoked")
secrets: {
hint: string
madeAt: string
until: (string | null)
}[]
key: (string | null)
}
export interface HandoverSheet {
form: "handover-sheet-1"
madeAt: string
software: string
thresholdSet: string
isMasked: boolean
timeZone: string
period: {
from: string
to: string
}
machine: {
label: string
machineId: (string | null)
name: (string | null)
site: (string | null)
machineClass: string
displacementL: number
ratedPowerKW: number
catalystFamily: string
hasParticulateFilter: boolean
defTankL: number
}
inShort: string[]
hours: {
engineHoursFrom: (number | null)
engineHoursTo: (number | null)
residency: (ResidencyTotals | null)
observed: ({
from: string
to: string
coverageRatio: number
} | null)
}
derates: {
startedAt: string
endedAt: (string | null)
level: ("unclear" | "low" | "severe")
signs: ("inducement-severity" | "torque-limit" | "derate-request" | "torque-mode" | "derate-code" | "inducement-code" | "configured-code")[]
saidClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
peakSeverity: (number | null)
leastTorqueRatio: (number | null)
lostPowerKW: (number | null)
runningH: (number | null)
lostH: (number | null)
number: string
inquiry: ({
verdict: ("found" | "several" | "unknown")
confidence: number
summary: string
checkFirst: string[]
doNot: string[]
suspectSensors: {
channel: string
why: string
}[]
notes: Evidence[]
origins: {
spn: number
fmi: number
sourceAddress: (number | null)
spnWords: string
fmiWords: string
wordsFrom: ("standard" | "fleet" | "maker-range" | "unknown")
isConsequence: boolean
inducementClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
startedAt: string
endedAt: (string | null)
rank: number
likelihood: number
isOrigin: boolean
evidence: Evidence[]
code: (string | null)
}[]
} | null)
history: {
revision: number
madeAt: string
changes: string[]
verdict: ("found" | "several" | "unknown")
summary: string
}[]
window: ({
at: string
from: string
to: string
stepS: number
channels: {
channel: string
label: string
unit: string
values: (number | null)[]
}[]
} | null)
}[]
clocks: InducementClock[]
codes: {
spn: number
fmi: number
sourceAddress: (number | null)
spnWords: string
fmiWords: string
wordsFrom: ("standard" | "fleet" | "maker-range" | "unknown")
isConsequence: boolean
inducementClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
conversionMethod: (0 | 1)
occurrences: number
reportedCount: (number | null)
firstAt: string
lastAt: string
isActive: boolean
lamps: {
malfunction: ("off" | "on" | "reserved" | "unavailable")
redStop: ("off" | "on" | "reserved" | "unavailable")
amberWarning: ("off" | "on" | "reserved" | "unavailable")
protect: ("off" | "on" | "reserved" | "unavailable")
}
flash: number
number: string
occurrencesInPeriod: number
times: {
startedAt: string
endedAt: (string | null)
endedBy: (("list" | "event" | "unknown") | null)
lastSeenAt: string
origin: ("dm1" | "dm2" | "event" | "feed" | "typed")
isPreviouslyActiveOnly: boolean
}[]
notes: {
at: string
typedBy: (string | null)
note: string
}[]
windows: {
at: string
from: string
to: string
stepS: number
channels: {
channel: string
label: string
unit: string
values: (number | null)[]
}[]
}[]
}[]
runs: {
count: number
byDay: {
day: string
runs: number
runningS: number
idleS: number
}[]
}
regenerations: {
startedAt: string
endedAt: (string | null)
outcome: string
durationS: number
sootBeforePct: (number | null)
sootAfterPct: (number | null)
peakInletTempC: (number | null)
}[]
defFills: {
at: string
litres: number
levelBeforePct: number
levelAfterPct: number
}[]
defFindings: {
startedAt: string
endedAt: (string | null)
what: string
figures: string
}[]
otherFindings: {
what: string
count: number
worst: ("info" | "notice" | "warning" | "severe")
}[]
service: ({
at: string
what: string
engineHours: (number | null)
by: (string | null)
note: (string | null)
}[] | null)
limits: string[]
cautions: string[]
}
export interface ResidencyTotals {
runningS: number
idleS: number
coolingDownS: number
lightS: number
workingS: number
belowS: number
inS: number
aboveS: number
belowReleaseS: number
noTemperatureS: number
crankingS: number
offS: number
unobservedS: number
fuelL: number
maxExhaustTempC: (number | null)
}
export interface Inspection {
version: number
at: string
by: string
ticks: {
"def-strainer": (("in-order" | "not-in-order") | null)
"def-can": (("in-order" | "not-in-order") | null)
"restriction-indicator": (("in-order" | "not-in-order") | null)
"end-of-shift": (("in-order" | "not-in-order") | null)
}
note: string
}
export interface LoadOutlook {
sootG: (number | null)
sootLimitG: (number | null)
sootRatio: (number | null)
isMeasured: boolean
sootDoubtRatio: (number | null)
sootBasis?: (("model" | "signal" | "pressure" | "signal-and-pressure") | null)
no2Basis?: (("sensed" | "estimated" | "unknown") | null)
depositG: number
depositLimitG: number
depositRatio: number
isDepositMeasured: boolean
workTempC: number
minutesUntilClean: (number | null)
hoursToLimit: (number | null)
wayToLimit: ("reached" | "ahead" | "far" | "never" | "unknown" | "no-filter")
}
export interface MachineDetail {
machineId: string
name: string
machineClass: string
site: (string | null)
timeZone: string
lastSampleAt: string
mode: ("unobserved" | "off" | "cranking" | "idle" | "cooling-down" | "light" | "working")
score: (RiskScore | null)
day: DayStrip
residency: ResidencyTotals
findingCounts: {
[k: string]: number
}
observed: {
from: string
to: string
coverageRatio: number
}
profile: {
name?: string
machineClass: string
site?: string
fleet?: string
timeZone: string
shifts: {
name: string
start: string
end: string
}[]
catalystFamily: ("unspecified" | "vanadia" | "iron-zeolite" | "copper-zeolite")
window?: {
lowC: number
highC: number
}
dosingReleaseTempC: number
baseIdleRpm: number
idleBandRpm: number
runningRpm: number
noLoadPct: number
workingLoadPct: number
displacementL: number
ratedPowerKW: number
fuelTankL: number
defTankL: number
hasParticulateFilter: boolean
particulateFilterL: number
sootLimitGPerL: number
sootLevel: ("tier-3" | "tier-4-interim" | "tier-4-egr-filter" | "stage-5-scr-only")
depositLimitG: number
defToFuelRatio: number
fuelPricePerL: number
hourCost: number
serviceIntervals: {
item: string
name: string
hours: (number | null)
months: (number | null)
source: string
}[]
inducementSchedule?: string
limits: {
[k: string]: number
}
}
window: {
lowC: number
highC: number
}
histogramS: number[]
exhaustSourceS: {
[k: string]: number
}
longestIdleS: number
load: (LoadOutlook | null)
def: (DefOutlook | null)
noxBins: NoxBin[]
suspectChannels: string[]
thresholdSet: string
}
export interface RiskScore {
value: number
parts: {
[k: string]: number
}
confidence: number
missing: string[]
advice: string
caution: (string | null)
}
export interface NoxBin {
lowC: number
highC: number
conversionRatio: (number | null)
baselineRatio: (number | null)
}
export interface MachineItem {
machineId: string
name: string
machineClass: string
site: (string | null)
timeZone: string
lastSampleAt: string
mode: ("unobserved" | "off" | "cranking" | "idle" | "cooling-down" | "light" | "working")
score: (RiskScore | null)
day: DayStrip
residency: ResidencyTotals
findingCounts: {
[k: string]: number
}
}
export interface MachineService {
machineId: string
name: string
timeZone: string
at: string
engineHours: ({
value: number
at: string
} | null)
due: ServiceDue[]
records: ServiceRecord[]
}
export interface ServiceDue {
item: string
name: string
interval: {
hours: (number | null)
months: (number | null)
}
source: string
lastAt: (string | null)
lastEngineHours: (number | null)
usedHours: (number | null)
usedBasis: (("hour-meter" | "observed-running") | null)
hoursLeft: (number | null)
dueAt: (string | null)
dueBy: (("hours" | "calendar") | null)
state: ("never-recorded" | "fine" | "soon" | "overdue")
}
export interface ServiceRecord {
id: string
item: string
at: string
engineHours: (number | null)
note: string
recordedBy: string
recordedAt: string
}
export interface MaintenanceWindow {
id: string
fleetId: string
machineId: (string | null)
site: (string | null)
from: string
to: (string | null)
reason: string
by: string
}
export interface NewDefBatchInput {
name: string
fleetId?: string
site?: (string | null)
purchasedOn: string
storageTempC: number
quantityL: number
leftL?: number
note?: string
}
export interface NewInspectionInput {
by: string
ticks: {
"def-strainer"?: (("in-order" | "not-in-order") | null)
"def-can"?: (("in-order" | "not-in-order") | null)
"restriction-indicator"?: (("in-order" | "not-in-order") | null)
"end-of-shift"?: (("in-order" | "not-in-order") | null)
}
note?: string
basedOn: number
}
export interface NewServiceRecordInput {
item: string
at: string
engineHours?: (number | null)
note?: string
by?: string
}
export interface NewSetPromotionInput {
version: string
scope: {
kind: ("all" | "fleet" | "class" | "machine")
name: (string | null)
}
from?: string
recompute?: boolean
reason: string
}
export interface NewThresholdSetInput {
version: string
values: {
maxHoldS?: number
idleLimitS?: number
idleBlipS?: number
gapBridgeS?: number
coldLimitS?: number
coldBlipS?: number
coldDeadbandC?: number
cooldownWantedS?: number
cooldownSevereS?: number
hotMetalC?: number
hotMetalSevereC?: number
turbineTauS?: number
silentStopS?: number
coldStartCoolantC?: number
earlyLoadPct?: number
earlyLoadHoldS?: number
warmupBaseS?: number
warmupPerKelvinS?: number
warmupMaxS?: number
dataGapS?: number
clockJumpS?: number
regenBlipS?: number
regenFullS?: number
regenCleanPct?: number
regenInhibitedS?: number
regenWaitS?: number
defStepPct?: number
defDropPct?: number
defFillHoldS?: number
defMovingHoldS?: number
defLowPct?: number
defLowClearPct?: number
defSeverePct?: number
defForecastH?: number
defForecastClearH?: number
defConcentrationLowPct?: number
defConcentrationHighPct?: number
defConcentrationTolerancePct?: number
defQualityHoldS?: number
frostMarginK?: number
defHeaterWaitS?: number
defThawS?: number
defDriftRatio?: number
defDriftClearRatio?: number
defWindowFuelL?: number
noxWarmS?: number
noxBatchS?: number
noxDropRatio?: number
noxClearRatio?: number
airFilterLimitKPa?: number
airFilterNoticeKPa?: number
airFilterClearKPa?: number
airFilterFlowRatio?: number
airFilterBatchS?: number
sensorStuckS?: number
sensorLoadRangePct?: number
sensorColdC?: number
sensorDriftK?: number
sensorSwapK?: number
sensorSwapS?: number
coolantStuckS?: number
coolantWarmS?: number
coolantColdC?: number
coolantDriftK?: number
frostStartC?: number
coldReleaseS?: number
derateTorqueRatio?: number
derateTorqueClearRatio?: number
derateRequestPct?: number
derateHoldS?: number
derateClearS?: number
derateModeS?: number
derateLearnS?: number
}
reason: string
trialId?: (string | null)
needsApproval?: boolean
}
export interface NewTrialInput {
title: string
document: ComparisonDocumentInput
}
export interface NoxAnswer {
machineId: string
asOf: string
dosingReleaseTempC: number
window: {
lowC: number
highC: number
}
bins: NoxBin[]
}
export interface PacketMessageInput {
machineId: string
times: (number | string)[]
channels: {
[k: string]: (number | null)[]
}
}
export interface Problem {
type: string
title: string
status: number
detail?: string
instance?: string
code: string
errors?: {
path: string
message: string
}[]
}
export interface ProfileDocument {
machineId: string
fleetId: string
profile: {
name?: string
machineClass: string
site?: string
fleet?: string
timeZone: string
shifts: {
name: string
start: string
end: string
}[]
catalystFamily: ("unspecified" | "vanadia" | "iron-zeolite" | "copper-zeolite")
window?: {
lowC: number
highC: number
}
dosingReleaseTempC: number
baseIdleRpm: number
idleBandRpm: number
runningRpm: number
noLoadPct: number
workingLoadPct: number
displacementL: number
ratedPowerKW: number
fuelTankL: number
defTankL: number
hasParticulateFilter: boolean
particulateFilterL: number
sootLimitGPerL: number
sootLevel: ("tier-3" | "tier-4-interim" | "tier-4-egr-filter" | "stage-5-scr-only")
depositLimitG: number
defToFuelRatio: number
fuelPricePerL: number
hourCost: number
serviceIntervals: {
item: string
name: string
hours: (number | null)
months: (number | null)
source: string
}[]
inducementSchedule?: string
limits: {
[k: string]: number
}
}
}
export interface RuleDocument {
fleetId: string
isBuiltIn: boolean
isChanged: boolean
revision: number
changedAt: (string | null)
changedBy: (string | null)
rule: AlertRule
}
export interface RuleTried {
from: string
to: string
machines: number
count: number
pages: number
openings: {
machineId: string
startedAt: string
endedAt: (string | null)
severity: ("info" | "notice" | "warning" | "severe")
pages: boolean
text: string
}[]
remarks: string[]
}
export interface RunList {
items: Finding[]
nextCursor: (string | null)
}
export interface SampleMessageInput {
machineId: string
time: (number | string)
values: {
[k: string]: number | null
}
}
export interface ScoreSeries {
items: {
day: string
at: string
value: number
confidence: number
parts: {
[k: string]: number
}
thresholdSet: string
}[]
}
export interface SetPromotion {
id: number
version: (string | null)
scope: {
kind: ("all" | "fleet" | "class" | "machine")
name: (string | null)
}
from: string
isRecomputed: boolean
recomputedMachines: number
author: string
reason: string
createdAt: string
}
export interface SetRollbackInput {
recompute?: boolean
reason: string
}
export interface Shift {
name: string
startedAt: string
endedAt: string
isOver: boolean
residency: ResidencyTotals
starts: {
at: string
grade: ("good" | "too-early-load" | "unseen")
warmupS: (number | null)
wantedS: (number | null)
}[]
idles: {
startedAt: string
endedAt: (string | null)
durationS: number
fuelL: (number | null)
}[]
stops: {
at: string
grade: ("good" | "short" | "hot" | "unknown")
cooldownS: (number | null)
wantedS: number
}[]
fills: {
at: string
litres: (number | null)
levelAfterPct: (number | null)
}[]
wellDoneRatio: (number | null)
defLevelEndPct: (number | null)
inspection: (Inspection | null)
inspectionHistory: Inspection[]
}
export interface TelemetryReceipt {
accepted: number
duplicates?: number
rejected: number
rejects: {
reason: string
where: string
detail: string
}[]
droppedValues: {
unknownChannels: number
notNumbers: number
implausible: number
}
}
export interface ThresholdSet {
version: string
values: {
maxHoldS: number
idleLimitS: number
idleBlipS: number
gapBridgeS: number
coldLimitS: number
coldBlipS: number
coldDeadbandC: number
cooldownWantedS: number
cooldownSevereS: number
hotMetalC: number
hotMetalSevereC: number
turbineTauS: number
silentStopS: number
coldStartCoolantC: number
earlyLoadPct: number
earlyLoadHoldS: number
warmupBaseS: number
warmupPerKelvinS: number
warmupMaxS: number
dataGapS: number
clockJumpS: number
regenBlipS: number
regenFullS: number
regenCleanPct: number
regenInhibitedS: number
regenWaitS: number
defStepPct: number
defDropPct: number
defFillHoldS: number
defMovingHoldS: number
defLowPct: number
defLowClearPct: number
defSeverePct: number
defForecastH: number
defForecastClearH: number
defConcentrationLowPct: number
defConcentrationHighPct: number
defConcentrationTolerancePct: number
defQualityHoldS: number
frostMarginK: number
defHeaterWaitS: number
defThawS: number
defDriftRatio: number
defDriftClearRatio: number
defWindowFuelL: number
noxWarmS: number
noxBatchS: number
noxDropRatio: number
noxClearRatio: number
airFilterLimitKPa: number
airFilterNoticeKPa: number
airFilterClearKPa: number
airFilterFlowRatio: number
airFilterBatchS: number
sensorStuckS: number
sensorLoadRangePct: number
sensorColdC: number
sensorDriftK: number
sensorSwapK: number
sensorSwapS: number
coolantStuckS: number
coolantWarmS: number
coolantColdC: number
coolantDriftK: number
frostStartC: number
coldReleaseS: number
derateTorqueRatio: number
derateTorqueClearRatio: number
derateRequestPct: number
derateHoldS: number
derateClearS: number
derateModeS: number
derateLearnS: number
}
author: string
reason: string
trialId: (string | null)
needsApproval: boolean
approvedBy: (string | null)
createdAt: (string | null)
}
export interface Trial {
trialId: string
title: string
author: string
createdAt: string
document: unknown
}
export interface GetCallerQuery {
fields?: string
}
export interface PostSessionBody {
key: string
}
export interface GetKeysAnswer {
items: ApiKey[]
}
export interface GetKeysQuery {
fields?: string
}
export interface PostKeysBody {
name: string
role: ("viewer" | "analyst" | "engineer" | "admin")
fleets?: ("all" | string[])
expiresInS?: (number | null)
}
export interface PostKeyRotatePath {
keyId: string
}
export interface DeleteKeyPath {
keyId: string
}
export interface GetFleetsAnswer {
items: Fleet[]
}
export interface GetFleetsQuery {
fields?: string
}
export interface PostFleetsBody {
fleetId: string
name: string
}
export interface PatchFleetPath {
fleetId: string
}
export interface PatchFleetBody {
name: string
}
export interface GetAuditAnswer {
items: AuditEntry[]
nextCursor: (string | null)
}
export interface GetAuditQuery {
limit?: number
cursor?: string
actor?: string
from?: string
to?: string
fields?: string
}
export interface GetAuditCheckAnswer {
entries: number
brokenAt: (number | null)
}
export interface GetAuditCheckQuery {
fields?: string
}
export interface GetMachinesAnswer {
items: MachineItem[]
nextCursor: (string | null)
}
export interface GetMachinesQuery {
limit?: number
cursor?: string
sort?: ("risk" | "name")
site?: string
fleet?: string
fields?: string
}
export interface GetMachinePath {
machineId: string
}
export interface GetMachineQuery {
fields?: string
}
export interface GetMachineProfilePath {
machineId: string
}
export interface GetMachineProfileQuery {
fields?: string
}
export interface PutMachineProfilePath {
machineId: string
}
export interface PutMachineProfileBody {
name?: string
machineClass?: string
site?: string
fleet?: string
timeZone?: string
shifts?: {
name: string
start: string
end: string
}[]
catalystFamily?: ("unspecified" | "vanadia" | "iron-zeolite" | "copper-zeolite")
window?: {
lowC: number
highC: number
}
dosingReleaseTempC?: number
baseIdleRpm?: number
idleBandRpm?: number
runningRpm?: number
noLoadPct?: number
workingLoadPct?: number
displacementL?: number
ratedPowerKW?: number
fuelTankL?: number
defTankL?: number
hasParticulateFilter?: boolean
particulateFilterL?: number
sootLimitGPerL?: number
sootLevel?: ("tier-3" | "tier-4-interim" | "tier-4-egr-filter" | "stage-5-scr-only")
depositLimitG?: number
defToFuelRatio?: number
fuelPricePerL?: number
hourCost?: number
serviceIntervals?: {
item: string
name: string
hours: (number | null)
months: (number | null)
source?: string
}[]
inducementSchedule?: string
limits?: {
[k: string]: number
}
}
export interface GetMachineScoresPath {
machineId: string
}
export interface GetMachineScoresQuery {
from?: string
to?: string
format?: ("json" | "csv" | "parquet")
}
export interface GetMachineRecordingsPath {
machineId: string
}
export interface GetMachineRecordingsQuery {
limit?: number
cursor?: string
fields?: string
}
export interface GetMachineFindingsAnswer {
items: Finding[]
nextCursor: (string | null)
}
export interface GetMachineFindingsPath {
machineId: string
}
export interface GetMachineFindingsQuery {
limit?: number
cursor?: string
from?: string
to?: string
kind?: string
fields?: string
}
export interface GetMachineRunsPath {
machineId: string
}
export interface GetMachineRunsQuery {
limit?: number
cursor?: string
from?: string
to?: string
fields?: string
}
export interface GetFindingsAnswer {
items: Finding[]
nextCursor: (string | null)
}
export interface GetFindingsQuery {
limit?: number
cursor?: string
machineId?: string
fleet?: string
kind?: string
severity?: string
from?: string
to?: string
fields?: string
}
export interface GetMachineResidencyAnswer {
bucket: ("quarter" | "hour" | "shift" | "day")
timeZone: string
items: {
startedAt: string
endedAt: string
shift: (string | null)
runningS: number
idleS: number
coolingDownS: number
lightS: number
workingS: number
belowS: number
inS: number
aboveS: number
belowReleaseS: number
noTemperatureS: number
crankingS: number
offS: number
unobservedS: number
fuelL: number
maxExhaustTempC: (number | null)
}[]
}
export interface GetMachineResidencyPath {
machineId: string
}
export interface GetMachineResidencyQuery {
bucket?: ("quarter" | "hour" | "shift" | "day")
from?: string
to?: string
format?: ("json" | "csv" | "parquet")
}
export interface GetMachineDefPath {
machineId: string
}
export interface GetMachineDefQuery {
fields?: string
}
export interface GetMachineNoxPath {
machineId: string
}
export interface GetMachineNoxQuery {
fields?: string
}
export interface GetMachineComparisonPath {
machineId: string
}
export interface GetMachineComparisonQuery {
fields?: string
}
export interface GetDefBatchesAnswer {
items: DefBatchTrace[]
machines: number
hasMoreMachines: boolean
}
export interface GetDefBatchesQuery {
fields?: string
}
export interface GetMachineSamplesAnswer {
from: string
to: string
bucketS: number
startedAt: string[]
channels: {
[k: string]: {
unit: string
min: (number | null)[]
mean: (number | null)[]
max: (number | null)[]
}
}
}
export interface GetMachineSamplesPath {
machineId: string
}
export interface GetMachineSamplesQuery {
from?: string
to?: string
channels?: string
buckets?: number
format?: ("json" | "csv" | "parquet")
}
export interface GetAlertsAnswer {
items: Alert[]
nextCursor: (string | null)
}
export interface GetAlertsQuery {
limit?: number
cursor?: string
condition?: string
severity?: string
machineId?: string
site?: string
fleet?: string
rule?: string
acknowledged?: ("true" | "false")
from?: string
to?: string
fields?: string
}
export interface GetAlertPath {
episodeId: string
}
export interface GetAlertQuery {
fields?: string
}
export interface PostAlertAcknowledgePath {
episodeId: string
}
export interface PostAlertAcknowledgeBody {
note?: string
}
export interface PostAlertAssignPath {
episodeId: string
}
export interface PostAlertAssignBody {
to: (string | null)
note?: string
}
export interface PostAlertShelvePath {
episodeId: string
}
export interface PostAlertShelveBody {
minutes: number
reason: string
}
export interface PostAlertUnshelvePath {
episodeId: string
}
export interface PostAlertCommentPath {
episodeId: string
}
export interface PostAlertCommentBody {
note: string
}
export interface GetRulesAnswer {
items: RuleDocument[]
}
export interface GetRulesQuery {
fleetId?: string
fields?: string
}
export interface PostRulesBody {
fleetId?: string
basedOn?: number
rule: {
[k: string]: unknown
}
}
export interface PutRulePath {
ruleId: string
}
export interface PutRuleBody {
fleetId?: string
basedOn?: number
rule: {
[k: string]: unknown
}
}
export interface DeleteRulePath {
ruleId: string
}
export interface DeleteRuleQuery {
fleetId?: string
}
export interface PostRulesTryBody {
fleetId?: string
days?: number
rule: {
[k: string]: unknown
}
}
export interface GetMaintenanceWindowsAnswer {
items: MaintenanceWindow[]
}
export interface GetMaintenanceWindowsQuery {
fields?: string
}
export interface PostMaintenanceWindowsBody {
fleetId?: string
machineId?: string
site?: string
from?: string
to?: string
reason: string
}
export interface DeleteMaintenanceWindowPath {
windowId: string
}
export interface GetDestinationsAnswer {
items: Destination[]
}
export interface GetDestinationsQuery {
fields?: string
}
export interface PutDestinationPath {
destinationId: string
}
export interface DeleteDestinationPath {
destinationId: string
}
export interface PostDestinationRotateSecretPath {
destinationId: string
}
export interface GetMachineFaultsAnswer {
items: FaultLine[]
nextCursor: (string | null)
}
export interface GetMachineFaultsPath {
machineId: string
}
export interface GetMachineFaultsQuery {
limit?: number
cursor?: string
sort?: ("occurrence" | "time" | "first")
from?: string
to?: string
state?: ("active" | "cleared")
spn?: number
fmi?: number
sourceAddress?: number
fields?: string
}
export interface PostMachineFaultsPath {
machineId: string
}
export interface GetFaultTextsAnswer {
fleetId: string
items: {
spn: number
fmi: (number | null)
text: string
inducementClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
isDerateCode: boolean
derates?: string
checkFirst?: string
changedBy: string
changedAt: string
}[]
}
export interface GetFaultTextsQuery {
fleetId?: string
fields?: string
}
export interface PutFaultTextsAnswer {
fleetId: string
items: {
spn: number
fmi: (number | null)
text: string
inducementClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
isDerateCode: boolean
derates?: string
checkFirst?: string
changedBy: string
changedAt: string
}[]
}
export interface PutFaultTextsQuery {
fleetId?: string
}
export interface GetMachineDeratesAnswer {
items: {
id: string
machineId: string
startedAt: string
endedAt: (string | null)
level: ("unclear" | "low" | "severe")
signs: ("inducement-severity" | "torque-limit" | "derate-request" | "torque-mode" | "derate-code" | "inducement-code" | "configured-code")[]
saidClass: (("level" | "quality" | "dosing" | "tampering" | "egr" | "soot" | "protection" | "other") | null)
peakSeverity: (number | null)
leastTorqueRatio: (number | null)
lostPowerKW: (number | null)
runningH: (number | null)
lostH: (number | null)
inquiry: (DerateInquiry | null)
}[]
nextCursor: (string | null)
}
export interface GetMachineDeratesPath {
machineId: string
}
export interface GetMachineDeratesQuery {
limit?: number
cursor?: string
from?: string
to?: string
fields?: string
}
export interface GetDeratePath {
derateId: string
}
export interface GetDerateQuery {
fields?: string
}
export interface GetMachineHandoverPath {
machineId: string
}
export interface GetMachineHandoverQuery {
from?: string
to?: string
mask?: ("true" | "false")
format?: ("json" | "csv" | "pdf" | "html")
}
export interface GetMachineServicePath {
machineId: string
}
export interface GetMachineServiceQuery {
fields?: string
}
export interface PostMachineServicePath {
machineId: string
}
export interface DeleteMachineServicePath {
machineId: string
recordId: string
}
export interface PostServiceRecordsAnswer {
written: number
known: number
}
export interface GetDefStockAnswer {
items: DefBatch[]
}
export interface GetDefStockQuery {
fields?: string
}
export interface PutDefStockPath {
batchId: string
}
export interface DeleteDefStockPath {
batchId: string
}
export interface GetMachineShiftsAnswer {
machineId: string
machineName: string
timeZone: string
cooldownWantedS: number
items: Shift[]
}
export interface GetMachineShiftsPath {
machineId: string
}
export interface GetMachineShiftsQuery {
from?: string
to?: string
fields?: string
}
export interface PostMachineShiftInspectionPath {
machineId: string
shiftStart: string
}
export interface GetDeliveriesAnswer {
items: Delivery[]
nextCursor: (string | null)
}
export interface GetDeliveriesQuery {
limit?: number
cursor?: string
destinationId?: string
machineId?: string
state?: ("waiting" | "sent" | "dead")
fields?: string
}
export interface GetDeliveryAttemptsAnswer {
items: {
at: string
result: ("taken" | "refused" | "failed")
status: string
detail: string
tookMs: number
}[]
}
export interface GetDeliveryAttemptsPath {
deliveryId: string
}
export interface GetDeliveryAttemptsQuery {
fields?: string
}
export interface PostDeliveryResendAnswer {
id: string
}
export interface PostDeliveryResendPath {
deliveryId: string
}
export interface GetThresholdSetsAnswer {
items: ThresholdSet[]
}
export interface GetThresholdSetsQuery {
fields?: string
}
export interface GetThresholdSetPath {
version: string
}
export interface GetThresholdSetQuery {
fields?: string
}
export interface PostThresholdSetApprovalPath {
version: string
}
export interface GetSetPromotionsAnswer {
items: SetPromotion[]
}
export interface GetSetPromotionsQuery {
fields?: string
}
export interface PostSetPromotionRollbackPath {
id: number
}
export interface GetTrialsAnswer {
items: {
trialId: string
title: string
author: string
createdAt: string
}[]
}
export interface GetTrialsQuery {
fields?: string
}
export interface PostTrialsAnswer {
trialId: string
}
export interface GetTrialPath {
trialId: string
}
export interface GetTrialQuery {
fields?: string
}
export interface PostTelemetryQuery {
machineId?: string
}

export type GetCallerAnswer = Caller;
export type PostSessionAnswer = Caller;
export type PostKeysAnswer = FreshApiKey;
export type PostKeyRotateAnswer = FreshApiKey;
export type DeleteKeyAnswer = ApiKey;
export type PostFleetsAnswer = Fleet;
export type PatchFleetAnswer = Fleet;
export type GetMachineAnswer = MachineDetail;
export type GetMachineProfileAnswer = ProfileDocument;
export type PutMachineProfileAnswer = ProfileDocument;
export type GetMachineScoresAnswer = ScoreSeries;
export type GetMachineRecordingsAnswer = ArchivedDays;
export type GetMachineRunsAnswer = RunList;
export type GetMachineDefAnswer = DefOutlookAnswer;
export type GetMachineNoxAnswer = NoxAnswer;
export type GetMachineComparisonAnswer = Comparison;
export type GetAlertAnswer = AlertDetail;
export type PostAlertAcknowledgeAnswer = Alert;
export type PostAlertAssignAnswer = Alert;
export type PostAlertShelveAnswer = Alert;
export type PostAlertUnshelveAnswer = Alert;
export type PostAlertCommentAnswer = Alert;
export type PostRulesAnswer = RuleDocument;
export type PutRuleAnswer = RuleDocument;
export type PostRulesTryAnswer = RuleTried;
export type PostMaintenanceWindowsAnswer = MaintenanceWindow;
export type PostDestinationsAnswer = DestinationWithSecret;
export type PostDestinationsBody = NewDestinationInput;
export type PutDestinationAnswer = Destination;
export type PutDestinationBody = NewDestinationInput;
export type PostDestinationRotateSecretAnswer = DestinationWithSecret;
export type PostMachineFaultsAnswer = FaultEntry;
export type PostMachineFaultsBody = FaultEntryBodyInput;
export type PutFaultTextsBody = FaultTextsBodyInput;
export type GetDerateAnswer = DerateDetail;
export type GetMachineHandoverAnswer = HandoverSheet;
export type GetMachineServiceAnswer = MachineService;
export type PostMachineServiceAnswer = ServiceRecord;
export type PostMachineServiceBody = NewServiceRecordInput;
export type PostServiceRecordsBody = ServiceImportInput;
export type PostDefStockAnswer = DefBatch;
export type PostDefStockBody = NewDefBatchInput;
export type PutDefStockAnswer = DefBatch;
export type PutDefStockBody = NewDefBatchInput;
export type PostMachineShiftInspectionAnswer = Inspection;
export type PostMachineShiftInspectionBody = NewInspectionInput;
export type PostThresholdSetsAnswer = ThresholdSet;
export type PostThresholdSetsBody = NewThresholdSetInput;
export type GetThresholdSetAnswer = ThresholdSet;
export type PostThresholdSetApprovalAnswer = ThresholdSet;
export type PostSetPromotionsAnswer = SetPromotion;
export type PostSetPromotionsBody = NewSetPromotionInput;
export type PostSetPromotionRollbackAnswer = SetPromotion;
export type PostSetPromotionRollbackBody = SetRollbackInput;
export type PostTrialsBody = NewTrialInput;
export type GetTrialAnswer = Trial;
export type PostTelemetryAnswer = TelemetryReceipt;
export type PostFaultsAnswer = TelemetryReceipt;

export const api = {
  /** Who is asking, and what they may do. */
  getCaller: (options: CallOptions & { query?: GetCallerQuery } = {}): Promise<Fetched<GetCallerAnswer> | null> =>
    call('GET', '/v1/caller', options),
  /** Signs in on the pages: puts a key or token into a cookie that scripts cannot read. */
  postSession: (options: { body: PostSessionBody }): Promise<Fetched<PostSessionAnswer>> =>
    send('POST', '/v1/session', options),
  /** Signs out on the pages. */
  deleteSession: (options: object = {}): Promise<Fetched<null>> =>
    send('DELETE', '/v1/session', options),
  /** API keys, newest first. */
  getKeys: (options: CallOptions & { query?: GetKeysQuery } = {}): Promise<Fetched<GetKeysAnswer> | null> =>
    call('GET', '/v1/keys', options),
  /** Makes an API key, and shows it once. */
  postKeys: (options: { body: PostKeysBody }): Promise<Fetched<PostKeysAnswer>> =>
    send('POST', '/v1/keys', options),
  /** Gives a key a new secret, and shows it once; the one before stays good for the overlap. */
  postKeyRotate: (options: { path: PostKeyRotatePath; body: PostKeyRotateBody }): Promise<Fetched<PostKeyRotateAnswer>> =>
    send('POST', '/v1/keys/{keyId}/rotate', options),
  /** Revokes a key, at once and for good. */
  deleteKey: (options: { path: DeleteKeyPath }): Promise<Fetched<DeleteKeyAnswer>> =>
    send('DELETE', '/v1/keys/{keyId}', options),
  /** Fleets with the number of their machines. */
  getFleets: (options: CallOptions & { query?: GetFleetsQuery } = {}): Promise<Fetched<GetFleetsAnswer> | null> =>
    call('GET', '/v1/fleets', options),
  /** Makes a fleet. */
  postFleets: (options: { body: PostFleetsBody }): Promise<Fetched<PostFleetsAnswer>> =>
    send('POST', '/v1/fleets', options),
  /** Renames a fleet. */
  patchFleet: (options: { path: PatchFleetPath; body: PatchFleetBody }): Promise<Fetched<PatchFleetAnswer>> =>
    send('PATCH', '/v1/fleets/{fleetId}', options),
  /** What was done by whom, newest first. */
  getAudit: (options: CallOptions & { query?: GetAuditQuery } = {}): Promise<Fetched<GetAuditAnswer> | null> =>
    call('GET', '/v1/audit', options),
  /** Computes the chain of the audit log anew, and says where it breaks first. */
  getAuditCheck: (options: CallOptions & { query?: GetAuditCheckQuery } = {}): Promise<Fetched<GetAuditCheckAnswer> | null> =>
    call('GET', '/v1/audit/check', options),
  /** Machines with their risk and their last day. */
  getMachines: (options: CallOptions & { query?: GetMachinesQuery } = {}): Promise<Fetched<GetMachinesAnswer> | null> =>
    call('GET', '/v1/machines', options),
  /** One machine with everything observed so far. */
  getMachine: (options: CallOptions & { path: GetMachinePath; query?: GetMachineQuery }): Promise<Fetched<GetMachineAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}', options),
  /** Profile and fleet of one machine. */
  getMachineProfile: (options: CallOptions & { path: GetMachineProfilePath; query?: GetMachineProfileQuery }): Promise<Fetched<GetMachineProfileAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/profile', options),
  /** Replaces the profile of one machine; a field that is left out takes its default, the fleet stays. */
  putMachineProfile: (options: { path: PutMachineProfilePath; body: PutMachineProfileBody }): Promise<Fetched<PutMachineProfileAnswer>> =>
    send('PUT', '/v1/machines/{machineId}/profile', options),
  /** How the score of one machine went, day by day. */
  getMachineScores: (options: CallOptions & { path: GetMachineScoresPath; query?: GetMachineScoresQuery }): Promise<Fetched<GetMachineScoresAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/scores', options),
  /** UTC days of which samples of one machine are archived, newest first. */
  getMachineRecordings: (options: CallOptions & { path: GetMachineRecordingsPath; query?: GetMachineRecordingsQuery }): Promise<Fetched<GetMachineRecordingsAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/recordings', options),
  /** Findings of one machine. */
  getMachineFindings: (options: CallOptions & { path: GetMachineFindingsPath; query?: GetMachineFindingsQuery }): Promise<Fetched<GetMachineFindingsAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/findings', options),
  /** Runs of the engine of one machine, newest first. */
  getMachineRuns: (options: CallOptions & { path: GetMachineRunsPath; query?: GetMachineRunsQuery }): Promise<Fetched<GetMachineRunsAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/runs', options),
  /** Findings of all machines, newest first. */
  getFindings: (options: CallOptions & { query?: GetFindingsQuery } = {}): Promise<Fetched<GetFindingsAnswer> | null> =>
    call('GET', '/v1/findings', options),
  /** How one machine spent its time, by quarter, hour, shift or day. */
  getMachineResidency: (options: CallOptions & { path: GetMachineResidencyPath; query?: GetMachineResidencyQuery }): Promise<Fetched<GetMachineResidencyAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/residency', options),
  /** The DEF tank of one machine: level, how long it lasts, what to leave in it overnight. */
  getMachineDef: (options: CallOptions & { path: GetMachineDefPath; query?: GetMachineDefQuery }): Promise<Fetched<GetMachineDefAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/def', options),
  /** NOx conversion of one machine by bins of exhaust temperature. */
  getMachineNox: (options: CallOptions & { path: GetMachineNoxPath; query?: GetMachineNoxQuery }): Promise<Fetched<GetMachineNoxAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/nox', options),
  /** Figures of the last week beside those of machines of the same class and work, and days of change. */
  getMachineComparison: (options: CallOptions & { path: GetMachineComparisonPath; query?: GetMachineComparisonQuery }): Promise<Fetched<GetMachineComparisonAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/comparison', options),
  /** Batches of DEF on record, the machines filled from each, and those that lost NOx conversion after it. */
  getDefBatches: (options: CallOptions & { query?: GetDefBatchesQuery } = {}): Promise<Fetched<GetDefBatchesAnswer> | null> =>
    call('GET', '/v1/def-batches', options),
  /** Archived samples, as lowest, mean and highest by bucket of time. */
  getMachineSamples: (options: CallOptions & { path: GetMachineSamplesPath; query?: GetMachineSamplesQuery }): Promise<Fetched<GetMachineSamplesAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/samples', options),
  /** Alerts, those that began last first. */
  getAlerts: (options: CallOptions & { query?: GetAlertsQuery } = {}): Promise<Fetched<GetAlertsAnswer> | null> =>
    call('GET', '/v1/alerts', options),
  /** One alert with every step of its life. */
  getAlert: (options: CallOptions & { path: GetAlertPath; query?: GetAlertQuery }): Promise<Fetched<GetAlertAnswer> | null> =>
    call('GET', '/v1/alerts/{episodeId}', options),
  /** Say that somebody has seen it. */
  postAlertAcknowledge: (options: { path: PostAlertAcknowledgePath; body: PostAlertAcknowledgeBody }): Promise<Fetched<PostAlertAcknowledgeAnswer>> =>
    send('POST', '/v1/alerts/{episodeId}/acknowledge', options),
  /** Say who sees to it. */
  postAlertAssign: (options: { path: PostAlertAssignPath; body: PostAlertAssignBody }): Promise<Fetched<PostAlertAssignAnswer>> =>
    send('POST', '/v1/alerts/{episodeId}/assign', options),
  /** Keep it quiet for a time, with a reason. */
  postAlertShelve: (options: { path: PostAlertShelvePath; body: PostAlertShelveBody }): Promise<Fetched<PostAlertShelveAnswer>> =>
    send('POST', '/v1/alerts/{episodeId}/shelve', options),
  /** Take it off the shelf. */
  postAlertUnshelve: (options: { path: PostAlertUnshelvePath }): Promise<Fetched<PostAlertUnshelveAnswer>> =>
    send('POST', '/v1/alerts/{episodeId}/unshelve', options),
  /** Write into its history. */
  postAlertComment: (options: { path: PostAlertCommentPath; body: PostAlertCommentBody }): Promise<Fetched<PostAlertCommentAnswer>> =>
    send('POST', '/v1/alerts/{episodeId}/comment', options),
  /** The rules of a fleet, built in and set. */
  getRules: (options: CallOptions & { query?: GetRulesQuery } = {}): Promise<Fetched<GetRulesAnswer> | null> =>
    call('GET', '/v1/rules', options),
  /** A new rule, or a built-in one with other levels. */
  postRules: (options: { body: PostRulesBody }): Promise<Fetched<PostRulesAnswer>> =>
    send('POST', '/v1/rules', options),
  /** Change a rule. */
  putRule: (options: { path: PutRulePath; body: PutRuleBody }): Promise<Fetched<PutRuleAnswer>> =>
    send('PUT', '/v1/rules/{ruleId}', options),
  /** Take a rule away; a built-in one is as it was then. */
  deleteRule: (options: { path: DeleteRulePath; query?: DeleteRuleQuery }): Promise<Fetched<null>> =>
    send('DELETE', '/v1/rules/{ruleId}', options),
  /** How often would a rule have opened? Tried on what is stored of the last days; nothing is changed. */
  postRulesTry: (options: { body: PostRulesTryBody }): Promise<Fetched<PostRulesTryAnswer>> =>
    send('POST', '/v1/rules/try', options),
  /** Maintenance windows that are on or still to come. */
  getMaintenanceWindows: (options: CallOptions & { query?: GetMaintenanceWindowsQuery } = {}): Promise<Fetched<GetMaintenanceWindowsAnswer> | null> =>
    call('GET', '/v1/maintenance-windows', options),
  /** Take a machine, a site or a fleet out of service for a time. */
  postMaintenanceWindows: (options: { body: PostMaintenanceWindowsBody }): Promise<Fetched<PostMaintenanceWindowsAnswer>> =>
    send('POST', '/v1/maintenance-windows', options),
  /** End a maintenance window, or call it off. */
  deleteMaintenanceWindow: (options: { path: DeleteMaintenanceWindowPath }): Promise<Fetched<null>> =>
    send('DELETE', '/v1/maintenance-windows/{windowId}', options),
  /** Who is told of alerts. */
  getDestinations: (options: CallOptions & { query?: GetDestinationsQuery } = {}): Promise<Fetched<GetDestinationsAnswer> | null> =>
    call('GET', '/v1/destinations', options),
  /** A new destination; the secret that signs is shown this once. */
  postDestinations: (options: { body: PostDestinationsBody }): Promise<Fetched<PostDestinationsAnswer>> =>
    send('POST', '/v1/destinations', options),
  /** Replace a destination; its secrets stay. */
  putDestination: (options: { path: PutDestinationPath; body: PutDestinationBody }): Promise<Fetched<PutDestinationAnswer>> =>
    send('PUT', '/v1/destinations/{destinationId}', options),
  /** Delete a destination with everything that waits for it. */
  deleteDestination: (options: { path: DeleteDestinationPath }): Promise<Fetched<null>> =>
    send('DELETE', '/v1/destinations/{destinationId}', options),
  /** A new secret, shown this once; the one before goes on signing beside it until the next change. */
  postDestinationRotateSecret: (options: { path: PostDestinationRotateSecretPath }): Promise<Fetched<PostDestinationRotateSecretAnswer>> =>
    send('POST', '/v1/destinations/{destinationId}/rotate-secret', options),
  /** Every fault code of one machine, by occurrence or by time. */
  getMachineFaults: (options: CallOptions & { path: GetMachineFaultsPath; query?: GetMachineFaultsQuery }): Promise<Fetched<GetMachineFaultsAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/faults', options),
  /** Type in a code that was read off a display. */
  postMachineFaults: (options: { path: PostMachineFaultsPath; body: PostMachineFaultsBody }): Promise<Fetched<PostMachineFaultsAnswer>> =>
    send('POST', '/v1/machines/{machineId}/faults', options),
  /** The fleet's own table of fault codes. */
  getFaultTexts: (options: CallOptions & { query?: GetFaultTextsQuery } = {}): Promise<Fetched<GetFaultTextsAnswer> | null> =>
    call('GET', '/v1/fault-texts', options),
  /** Replace the fleet's own table of fault codes. */
  putFaultTexts: (options: { query?: PutFaultTextsQuery; body: PutFaultTextsBody }): Promise<Fetched<PutFaultTextsAnswer>> =>
    send('PUT', '/v1/fault-texts', options),
  /** Derates of one machine, newest first, each with the faults that could have begun it. */
  getMachineDerates: (options: CallOptions & { path: GetMachineDeratesPath; query?: GetMachineDeratesQuery }): Promise<Fetched<GetMachineDeratesAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/derates', options),
  /** One derate: its origin with what speaks for and against it, how the answer changed, and what comes next. */
  getDerate: (options: CallOptions & { path: GetDeratePath; query?: GetDerateQuery }): Promise<Fetched<GetDerateAnswer> | null> =>
    call('GET', '/v1/derates/{derateId}', options),
  /** Handover sheet: every code, derates and their origin, what was done; as JSON, CSV, PDF or a page to print. */
  getMachineHandover: (options: CallOptions & { path: GetMachineHandoverPath; query?: GetMachineHandoverQuery }): Promise<Fetched<GetMachineHandoverAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/handover', options),
  /** Service of one machine: what is due, by hours and calendar, and what was done. */
  getMachineService: (options: CallOptions & { path: GetMachineServicePath; query?: GetMachineServiceQuery }): Promise<Fetched<GetMachineServiceAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/service', options),
  /** Write down work that was done. */
  postMachineService: (options: { path: PostMachineServicePath; body: PostMachineServiceBody }): Promise<Fetched<PostMachineServiceAnswer>> =>
    send('POST', '/v1/machines/{machineId}/service', options),
  /** Take back a record. */
  deleteMachineService: (options: { path: DeleteMachineServicePath }): Promise<Fetched<null>> =>
    send('DELETE', '/v1/machines/{machineId}/service/{recordId}', options),
  /** Write down many records of any machines, as JSON or CSV; the same again changes nothing. */
  postServiceRecords: (options: { body: PostServiceRecordsBody }): Promise<Fetched<PostServiceRecordsAnswer>> =>
    send('POST', '/v1/service-records', options),
  /** Batches of DEF in storage, oldest first, with what is left of their life. */
  getDefStock: (options: CallOptions & { query?: GetDefStockQuery } = {}): Promise<Fetched<GetDefStockAnswer> | null> =>
    call('GET', '/v1/def-stock', options),
  /** Write down a batch. */
  postDefStock: (options: { body: PostDefStockBody }): Promise<Fetched<PostDefStockAnswer>> =>
    send('POST', '/v1/def-stock', options),
  /** Correct a batch, or say how much of it is left. */
  putDefStock: (options: { path: PutDefStockPath; body: PutDefStockBody }): Promise<Fetched<PutDefStockAnswer>> =>
    send('PUT', '/v1/def-stock/{batchId}', options),
  /** Take a batch off the list. */
  deleteDefStock: (options: { path: DeleteDefStockPath }): Promise<Fetched<null>> =>
    send('DELETE', '/v1/def-stock/{batchId}', options),
  /** Starts, idles, stops, fills and inspections of each shift, newest first. */
  getMachineShifts: (options: CallOptions & { path: GetMachineShiftsPath; query?: GetMachineShiftsQuery }): Promise<Fetched<GetMachineShiftsAnswer> | null> =>
    call('GET', '/v1/machines/{machineId}/shifts', options),
  /** Tick what was looked at; what was ticked before stays in the history. */
  postMachineShiftInspection: (options: { path: PostMachineShiftInspectionPath; body: PostMachineShiftInspectionBody }): Promise<Fetched<PostMachineShiftInspectionAnswer>> =>
    send('POST', '/v1/machines/{machineId}/shifts/{shiftStart}/inspection', options),
  /** Messages about alerts, newest first. */
  getDeliveries: (options: CallOptions & { query?: GetDeliveriesQuery } = {}): Promise<Fetched<GetDeliveriesAnswer> | null> =>
    call('GET', '/v1/deliveries', options),
  /** The log of one message, try by try. */
  getDeliveryAttempts: (options: CallOptions & { path: GetDeliveryAttemptsPath; query?: GetDeliveryAttemptsQuery }): Promise<Fetched<GetDeliveryAttemptsAnswer> | null> =>
    call('GET', '/v1/deliveries/{deliveryId}/attempts', options),
  /** Send a message once more, with the same id and the same bytes. */
  postDeliveryResend: (options: { path: PostDeliveryResendPath }): Promise<Fetched<PostDeliveryResendAnswer>> =>
    send('POST', '/v1/deliveries/{deliveryId}/resend', options),
  /** Threshold sets, the built-in one last. */
  getThresholdSets: (options: CallOptions & { query?: GetThresholdSetsQuery } = {}): Promise<Fetched<GetThresholdSetsAnswer> | null> =>
    call('GET', '/v1/threshold-sets', options),
  /** Keeps a set for good under a version of its own. */
  postThresholdSets: (options: { body: PostThresholdSetsBody }): Promise<Fetched<PostThresholdSetsAnswer>> =>
    send('POST', '/v1/threshold-sets', options),
  /** One set. */
  getThresholdSet: (options: CallOptions & { path: GetThresholdSetPath; query?: GetThresholdSetQuery }): Promise<Fetched<GetThresholdSetAnswer> | null> =>
    call('GET', '/v1/threshold-sets/{version}', options),
  /** A second pair of eyes: approves a set that somebody else made. */
  postThresholdSetApproval: (options: { path: PostThresholdSetApprovalPath }): Promise<Fetched<PostThresholdSetApprovalAnswer>> =>
    send('POST', '/v1/threshold-sets/{version}/approval', options),
  /** Promotes a set for all, a fleet, a class or a machine from a time on. */
  postSetPromotions: (options: { body: PostSetPromotionsBody }): Promise<Fetched<PostSetPromotionsAnswer>> =>
    send('POST', '/v1/set-promotions', options),
  /** Which set was promoted for what, from when, by whom. */
  getSetPromotions: (options: CallOptions & { query?: GetSetPromotionsQuery } = {}): Promise<Fetched<GetSetPromotionsAnswer> | null> =>
    call('GET', '/v1/set-promotions', options),
  /** Takes a promotion back: what held in its scope before holds again. */
  postSetPromotionRollback: (options: { path: PostSetPromotionRollbackPath; body: PostSetPromotionRollbackBody }): Promise<Fetched<PostSetPromotionRollbackAnswer>> =>
    send('POST', '/v1/set-promotions/{id}/rollback', options),
  /** Trials that were kept. */
  getTrials: (options: CallOptions & { query?: GetTrialsQuery } = {}): Promise<Fetched<GetTrialsAnswer> | null> =>
    call('GET', '/v1/trials', options),
  /** Keeps a comparison; the same one again is the same trial. */
  postTrials: (options: { body: PostTrialsBody }): Promise<Fetched<PostTrialsAnswer>> =>
    send('POST', '/v1/trials', options),
  /** One trial with its document. */
  getTrial: (options: CallOptions & { path: GetTrialPath; query?: GetTrialQuery }): Promise<Fetched<GetTrialAnswer> | null> =>
    call('GET', '/v1/trials/{trialId}', options),
  /** Samples of any machines and times; the answer comes after the commit. */
  postTelemetry: (options: { query?: PostTelemetryQuery; body: PostTelemetryBody }): Promise<Fetched<PostTelemetryAnswer>> =>
    send('POST', '/v1/telemetry', options),
  /** Fault codes as controllers reported them; the answer comes after the commit. */
  postFaults: (options: { body: PostFaultsBody }): Promise<Fetched<PostFaultsAnswer>> =>
    send('POST', '/v1/faults', options),
};

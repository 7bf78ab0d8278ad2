/** Inquires into the derates of one machine from what is stored, and stores what is new. */

import {
  builtInDerateSettings,
  builtInSchedules,
  type DerateEpisode,
  type DerateInquiry,
  derateEpisodes,
  type FaultEpisode,
  type Finding,
  type FindingKind,
  type FleetFaultTable,
  faultReachMs,
  inquireOrigin,
  inquiryWindows,
  schedulesInForce,
} from '@warmbrick/analysis';
import { defaultProfile, type MachineProfile, type SampleBlock } from '@warmbrick/signals';
import type { DueInquiry, Store, StoredDerate } from '@warmbrick/store';

/** What the inquiry asks of the store. */
export type InquiryStore = Pick<
  Store,
  | 'listDerates'
  | 'listFaultEpisodes'
  | 'listFindings'
  | 'loadProfile'
  | 'machineFaultTexts'
  | 'readSamples'
  | 'updateDerates'
>;

/** Derates inquired into at once, the newest; older ones have their answers. Source: engineering judgement. */
const mostDerates = 100;
const pageItems = 1000;
/** Findings that an inquiry hears at most. Source: engineering judgement; runs of two months are a few hundred. */
const mostFindings = 20_000;
/** Kinds of finding that say something about a derate. */
const heardKinds: readonly FindingKind[] = [
  'engine-run',
  'def-fill',
  'def-drop',
  'def-low',
  'def-quality',
  'def-frost',
  'def-heater',
  'nox-conversion',
  'regeneration',
  'regeneration-inhibited',
  'sensor-suspect',
];

interface Case {
  readonly store: InquiryStore;
  readonly machineId: string;
  readonly profile: MachineProfile;
  readonly fleetTable: FleetFaultTable;
  readonly faults: readonly FaultEpisode[];
}

/**
 * Makes the derates that reach past the time of the change, and the answers about them, anew.
 *
 * Returns how many answers were new. Errors: those of the store.
 */
export async function inquireMachine(store: InquiryStore, due: DueInquiry, nowMs: number): Promise<number> {
  const { machineId } = due;
  const joinMs = builtInDerateSettings.joinS * 1000;
  const stored = await derateSince(store, machineId, due.fromMs - joinMs);
  const fromMs = Math.min(due.fromMs, ...stored.map(({ derate }) => derate.startedMs)) - joinMs;
  const [profile, fleetTable, faults] = await Promise.all([
    store.loadProfile(machineId),
    store.machineFaultTexts(machineId),
    store.listFaultEpisodes({ machineId, fromMs: fromMs - faultReachMs, toMs: Number.POSITIVE_INFINITY }),
  ]);
  const it: Case = { store, machineId, profile: profile ?? defaultProfile, fleetTable, faults };
  const found = await listFindings(it, { fromMs, kinds: ['derate'] });
  const derates = derateEpisodes(found, faults, { profile: it.profile, fleetTable })
    .filter(({ startedMs, endedMs }) => startedMs >= fromMs || (endedMs ?? startedMs) >= fromMs + joinMs)
    .slice(-mostDerates);
  const ids = new Set(derates.map(({ id }) => id));
  const inquiries: { inquiry: DerateInquiry; madeMs: number }[] = [];
  for (const derate of derates) inquiries.push({ inquiry: await inquire(it, derate), madeMs: nowMs });
  const withdrawnIds = stored.map(({ derate }) => derate.id).filter((id) => !ids.has(id));
  if (derates.length + withdrawnIds.length === 0) return 0;
  return (await store.updateDerates({ machineId, derates, withdrawnIds, inquiries })).revisions;
}

/** Stored derates that had not ended by a time. */
async function derateSince(store: InquiryStore, machineId: string, fromMs: number): Promise<StoredDerate[]> {
  const { items } = await store.listDerates({ machineId, fromMs, limit: mostDerates });
  return [...items];
}

async function inquire(it: Case, derate: DerateEpisode): Promise<DerateInquiry> {
  const { machineId, profile, fleetTable, faults, store } = it;
  const samples: SampleBlock[] = [];
  for (const { fromMs, toMs } of inquiryWindows(derate, faults)) {
    samples.push(...(await store.readSamples({ machineId, fromMs: Math.floor(fromMs), toMs: Math.ceil(toMs) })));
  }
  const range = { fromMs: derate.startedMs - faultReachMs, toMs: derate.startedMs + 1, kinds: heardKinds };
  return inquireOrigin({
    derate,
    faults,
    samples,
    findings: await listFindings(it, range),
    profile,
    schedules: schedulesInForce(builtInSchedules, derate.startedMs),
    fleetTable,
  });
}

async function listFindings(
  { store, machineId }: Case,
  range: { fromMs: number; toMs?: number; kinds: readonly FindingKind[] },
): Promise<Finding[]> {
  const findings: Finding[] = [];
  for (let cursor: string | null | undefined; cursor !== null && findings.length < mostFindings; ) {
    const page: Awaited<ReturnType<Store['listFindings']>> = await store.listFindings({
      machineId,
      ...range,
      limit: pageItems,
      cursor,
    });
    findings.push(...page.items);
    cursor = page.nextCursor;
  }
  return findings;
}

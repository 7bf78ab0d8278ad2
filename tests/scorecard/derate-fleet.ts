/** The inquiry against derates of the machines whose aftertreatment is simulated as a whole: physics, codes and derates not made for it. */

import {
  builtInSchedules,
  builtInThresholds,
  createAnalyzer,
  type DerateEpisode,
  derateEpisodes,
  type Finding,
  foldFaults,
  initialFaultLog,
  inquireOrigin,
} from '@warmbrick/analysis';
import { type FaultReport, machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import { createSimulation, type SimulatedMachine, type TruthEvent, variedFleet } from '@warmbrick/simulator';

export interface FleetOrigins {
  readonly machines: number;
  readonly days: number;
  readonly seed: number;
  readonly derates: number;
  readonly found: number;
  readonly first: number;
  readonly amongThree: number;
  /** Derates that were found where there was none. */
  readonly falseDerates: number;
  /** What went wrong, a line each. */
  readonly misses: readonly string[];
}

type TrueDerate = Extract<TruthEvent, { kind: 'derate' }>;

const hourMs = 3_600_000;
/** Midnight at the site, in winter. */
const startMs = Date.UTC(2026, 0, 11, 23);
const pieceMs = 6 * hourMs;

/** Lives a fleet and asks for the origin of each derate. Deterministic. */
export function scoreFleetOrigins(plan: { machines: number; days: number; seed: number }): FleetOrigins {
  const sum = { derates: 0, found: 0, first: 0, amongThree: 0, falseDerates: 0 };
  const misses: string[] = [];
  for (const machine of variedFleet(plan)) {
    const lived = live(machine, plan);
    for (const truth of lived.truth) {
      sum.derates++;
      const derate = lived.derates.find((one) => touches(one, truth));
      if (derate === undefined) {
        misses.push(`${machine.machineId}: ${truth.cause}, no derate found`);
        continue;
      }
      sum.found++;
      const rank = rankOf(lived, derate, truth);
      if (rank === 1) sum.first++;
      if (rank >= 1 && rank <= 3) sum.amongThree++;
      if (rank !== 1)
        misses.push(`${machine.machineId}: ${truth.cause} ${truth.origin.spn}/${truth.origin.fmi}, rank ${rank}`);
    }
    sum.falseDerates += lived.derates.filter((one) => !lived.truth.some((truth) => touches(one, truth))).length;
  }
  return { ...plan, ...sum, misses };
}

interface Lived {
  readonly profile: ReturnType<typeof machineProfileSchema.parse>;
  readonly blocks: readonly SampleBlock[];
  readonly findings: readonly Finding[];
  readonly reports: readonly FaultReport[];
  readonly derates: readonly DerateEpisode[];
  readonly truth: readonly TrueDerate[];
}

function live(machine: SimulatedMachine, { days, seed }: { days: number; seed: number }): Lived {
  const simulation = createSimulation(machine, { seed, startMs });
  const profile = machineProfileSchema.parse(machine.profile);
  const analyzer = createAnalyzer({ machineId: machine.machineId, profile, thresholds: builtInThresholds });
  const findings = new Map<string, Finding>();
  const blocks: SampleBlock[] = [];
  const reports: FaultReport[] = [];
  for (let atMs = startMs + pieceMs; atMs <= startMs + days * 24 * hourMs; atMs += pieceMs) {
    const block = simulation.advanceTo(atMs);
    reports.push(...simulation.takeFaults());
    if (block === null) continue;
    blocks.push(block);
    for (const finding of analyzer.push(block).findings) findings.set(finding.id, finding);
  }
  const list = [...findings.values()];
  const faults = foldFaults(initialFaultLog, reports).episodes;
  const truth = [...simulation.truth, ...simulation.ongoing()].filter((event) => event.kind === 'derate');
  return { profile, blocks, findings: list, reports, derates: derateEpisodes(list, faults, { profile }), truth };
}

function touches({ startedMs, endedMs }: DerateEpisode, truth: TrueDerate): boolean {
  return startedMs < truth.endedMs + hourMs && (endedMs ?? truth.endedMs) >= truth.startedMs - hourMs;
}

/** 0 when the true origin is not listed. */
function rankOf({ reports, blocks, findings, profile }: Lived, derate: DerateEpisode, truth: TrueDerate): number {
  const faults = foldFaults(initialFaultLog, reports).episodes;
  const inquiry = inquireOrigin({ derate, faults, samples: blocks, findings, profile, schedules: builtInSchedules });
  const { spn, fmi } = truth.origin;
  const at = inquiry.origins.findIndex(({ faultId, relatedFaultIds }) =>
    faults.some((fault) => fault.spn === spn && fault.fmi === fmi && [faultId, ...relatedFaultIds].includes(fault.id)),
  );
  return at + 1;
}

/** From spans of codes to the lists that a gateway passes on: at each change, at each start and every ten minutes. */

import type { FaultReport } from '@warmbrick/signals';
import type { Random } from '../random.js';
import type { EngineMinute } from './case-drive.js';
import type { CodeSpan } from './derate-case.js';

export interface ReportPlan {
  readonly machineId: string;
  readonly drive: readonly EngineMinute[];
  readonly spans: readonly CodeSpan[];
  /** From then on the protect lamp is on. */
  readonly derateMinute: number;
  /** Share of the lists that get lost one by one, besides the minutes that were lost as a whole. */
  readonly lossRatio: number;
  readonly isLost: (minute: number) => boolean;
  /** Whether controllers without a fault send empty lists too. */
  readonly hasEmptyLists: boolean;
  /** Whether lists come late and out of order. */
  readonly isDisordered: boolean;
}

const repeatMinutes = 10;
const noFlash = 255;

/** Lists of every controller, in the order in which they arrive. */
export function reportsOf(plan: ReportPlan, random: Random): FaultReport[] {
  const addresses = [...new Set(plan.spans.map(({ sourceAddress }) => sourceAddress))].sort((a, b) => a - b);
  const sent = addresses.flatMap((address) => listsOf(plan, address, random));
  const rank = new Map(
    sent.map((report) => [
      report,
      report.timeMs + (plan.isDisordered && random.next() < 0.1 ? random.between(0, 20) * 3_600_000 : 0),
    ]),
  );
  return sent.sort((a, b) => (rank.get(a) as number) - (rank.get(b) as number));
}

function listsOf(plan: ReportPlan, sourceAddress: number, random: Random): FaultReport[] {
  const own = plan.spans.filter((span) => span.sourceAddress === sourceAddress);
  const counts = new Map<string, number>();
  const reports: FaultReport[] = [];
  let lastNames = '';
  let sentMinute = Number.NEGATIVE_INFINITY;
  plan.drive.forEach(({ timeMs, isStart }, minute) => {
    const active = own.filter(({ fromMinute, toMinute }) => fromMinute <= minute && minute < toMinute);
    for (const { spn, fmi, fromMinute } of active) {
      if (fromMinute === minute) counts.set(`${spn}/${fmi}`, (counts.get(`${spn}/${fmi}`) ?? 0) + 1);
    }
    const names = active.map(({ spn, fmi }) => `${spn}/${fmi}`).join();
    const isNews = names !== lastNames || isStart;
    const isDue = isNews || minute - sentMinute >= repeatMinutes;
    const isSilent = active.length === 0 && lastNames === '' && !plan.hasEmptyLists;
    lastNames = names;
    if (!isDue || isSilent) return;
    sentMinute = minute;
    // A list that comes every second is lost only where the gateway is.
    if (plan.isLost(minute) || (!isNews && random.next() < plan.lossRatio)) return;
    reports.push(
      listOf(plan, { sourceAddress, timeMs: timeMs + Math.round(random.between(0, 900)), minute, active, counts }),
    );
  });
  return reports;
}

function listOf(
  plan: ReportPlan,
  of: {
    sourceAddress: number;
    timeMs: number;
    minute: number;
    active: readonly CodeSpan[];
    counts: ReadonlyMap<string, number>;
  },
): FaultReport {
  const { sourceAddress, timeMs, minute, active, counts } = of;
  const isLit = active.some((span) => span.isLit);
  const isDerated = minute >= plan.derateMinute && sourceAddress === 0;
  return {
    machineId: plan.machineId,
    timeMs,
    sourceAddress,
    kind: 'active',
    lamps: {
      malfunction: 'off',
      redStop: 'off',
      amberWarning: isLit ? 'on' : 'off',
      protect: isDerated ? 'on' : 'off',
    },
    flash: noFlash,
    codes: active.map(({ spn, fmi }) => ({
      spn,
      fmi,
      occurrenceCount: counts.get(`${spn}/${fmi}`) ?? 1,
      conversionMethod: 0,
    })),
  };
}

/** Puts the active codes into reports, as a gateway that is awake passes them on. */

import type { FaultCode, FaultReport } from '@warmbrick/signals';
import type { CodeName } from './troubles.js';

/** Address of the engine controller. Source: SAE J1939-81, preferred addresses. */
const engineAddress = 0;
const noFlash = 255;
/** Most that a counter shows. Source: SAE J1939-73. */
const mostOccurrences = 126;
/** Reports kept until they are taken; the oldest go first. Source: design decision. */
const reportsKept = 10_000;

/** Reports the list of active codes when it changes and at each start; earlier ones follow at each start. */
export function createFaultSender(machineId: string) {
  let reports: FaultReport[] = [];
  let sent: readonly CodeName[] = [];
  let counted: readonly CodeName[] = [];
  let wasBurning = false;
  const occurrences = new Map<string, number>();
  const coded = ({ spn, fmi }: CodeName): FaultCode => {
    const occurrenceCount = Math.min(mostOccurrences, occurrences.get(`${spn} ${fmi}`) ?? 1);
    return { spn, fmi, occurrenceCount, conversionMethod: 0 };
  };
  const push = (timeMs: number, kind: FaultReport['kind'], list: readonly FaultCode[], isDerated: boolean): void => {
    const hasCodes = kind === 'active' && list.length > 0;
    const lamps = {
      malfunction: 'off',
      redStop: 'off',
      amberWarning: hasCodes ? 'on' : 'off',
      protect: hasCodes && isDerated ? 'on' : 'off',
    } as const;
    reports.push({ machineId, timeMs, sourceAddress: engineAddress, kind, lamps, flash: noFlash, codes: list });
    if (reports.length > reportsKept) reports = reports.slice(-reportsKept / 2);
  };
  const count = (active: readonly CodeName[]): void => {
    for (const code of active) {
      if (counted.includes(code)) continue;
      const key = `${code.spn} ${code.fmi}`;
      occurrences.set(key, (occurrences.get(key) ?? 0) + 1);
    }
    counted = active;
  };
  return {
    see(
      { active, torqueLimitPct }: { readonly active: readonly CodeName[]; readonly torqueLimitPct: number },
      now: { timeMs: number; isBurning: boolean; isPassedOn: boolean },
    ): void {
      if (active !== counted) count(active);
      if (!now.isPassedOn) return;
      const isStart = now.isBurning && !wasBurning;
      wasBurning = now.isBurning;
      const isNews = active !== sent && (active.length > 0 || sent.length > 0);
      if (!isNews && !isStart) return;
      if (isNews || active.length > 0) push(now.timeMs, 'active', active.map(coded), torqueLimitPct < 100);
      sent = active;
      if (!isStart) return;
      const earlier = [...occurrences.keys()]
        .map((key) => key.split(' ').map(Number) as [number, number])
        .filter(([spn, fmi]) => !active.some((code) => code.spn === spn && code.fmi === fmi))
        .map(([spn, fmi]) => coded({ spn, fmi }));
      if (earlier.length > 0) push(now.timeMs, 'previously-active', earlier, false);
    },
    take(): FaultReport[] {
      const taken = reports;
      reports = [];
      return taken;
    },
  };
}

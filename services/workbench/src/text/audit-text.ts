/** The result of an audit, for people. */

import type { MachineAudit } from '../audit/audit-machine.js';
import type { Difference } from '../audit/first-difference.js';

/** Characters shown of a value and of a hash. */
const maxValueLength = 120;
const hashLength = 12;

/** A line or two for each machine, and one for all. */
export function auditText(machines: readonly MachineAudit[]): string {
  const different = machines.filter((machine) => !machine.isEqual).length;
  const sum =
    machines.length === 0
      ? 'Nothing is stored.'
      : different === 0
        ? `What is stored is what the archive gives, for all ${machines.length} machines.`
        : `${different} of ${machines.length} machines differ from what their archive gives.`;
  return `${[...machines.map(machineText), sum].join('\n')}\n`;
}

function machineText(machine: MachineAudit): string {
  const { machineId, samples, days, rows, findings, chain, firstDifference, firstDay } = machine;
  const counts = `${samples} samples, ${days} days, ${rows} rows, ${findings} findings`;
  if (firstDifference === null) return `${machineId}: equal (${counts}; ${chain?.slice(0, hashLength) ?? 'no day'})`;
  const since = firstDay === null ? '' : ` from ${firstDay} on`;
  return `${machineId}: DIFFERENT${since} (${counts})\n  ${differenceText(firstDifference)}`;
}

function differenceText({ kind, where, stored, again }: Difference): string {
  if (kind === 'archive') {
    const start = again === null ? 'it holds no samples' : `it starts at ${String(again)}`;
    return `The archive was shortened: ${start}, and the analysis began at ${String(stored)}.`;
  }
  return `first difference: ${kind} ${where}: stored ${valueText(stored)}, again ${valueText(again)}`;
}

function valueText(value: unknown): string {
  const text = value === null ? 'nothing' : JSON.stringify(value);
  return text.length <= maxValueLength ? text : `${text.slice(0, maxValueLength)}...`;
}

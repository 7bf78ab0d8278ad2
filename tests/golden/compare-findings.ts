/** Compares what was found with what a case expects, and says every difference in words. */

import type { FindingDocument, ReplayDocument } from '@warmbrick/contracts';
import type { CaseFile, ExpectedFinding, FindingPick } from './case-file.js';

/** Every way in which a replay differs from its case; empty when it agrees. */
export function differences(expected: CaseFile, document: ReplayDocument): string[] {
  const found = document.machines.flatMap((machine) => machine.findings);
  const left = new Set(found);
  const lines: string[] = [];
  for (const wanted of expected.expected) {
    const finding = found.find((one) => left.has(one) && isSame(wanted, one));
    if (finding === undefined) {
      lines.push(`missing: ${describeWanted(wanted)}; found of this kind: ${nearby(wanted, found)}`);
      continue;
    }
    left.delete(finding);
    lines.push(...valueDifferences(wanted, finding));
  }
  for (const finding of found) {
    const banned = expected.absent.find((pick) => picks(pick, finding));
    if (banned !== undefined) lines.push(`must not be found (${banned.why}): ${describeFound(finding)}`);
    else if (left.has(finding) && !expected.ignore.some((pick) => picks(pick, finding))) {
      lines.push(`not expected: ${describeFound(finding)}`);
    }
  }
  return [...lines, ...totalDifferences(expected, document)];
}

function isSame(wanted: ExpectedFinding, finding: FindingDocument): boolean {
  if (wanted.machineId !== finding.machineId || wanted.kind !== finding.kind) return false;
  if (!isNear(wanted.startedAt, finding.startedAt, wanted.withinS)) return false;
  if (wanted.endedAt === undefined) return true;
  if (wanted.endedAt === 'open') return finding.endedAt === null;
  return finding.endedAt !== null && isNear(wanted.endedAt, finding.endedAt, wanted.withinS);
}

function isNear(wanted: string, found: string, withinS: number): boolean {
  return Math.abs(Date.parse(wanted) - Date.parse(found)) <= withinS * 1000;
}

function valueDifferences(wanted: ExpectedFinding, finding: FindingDocument): string[] {
  const lines: string[] = [];
  if (wanted.severity !== undefined && ![wanted.severity].flat().includes(finding.severity)) {
    lines.push(`severity ${finding.severity}, expected ${wanted.severity}: ${describeFound(finding)}`);
  }
  for (const [name, value] of Object.entries(wanted.values ?? {})) {
    const found = finding.values[name];
    const agrees =
      typeof value === 'object'
        ? typeof found === 'number' && Math.abs(found - value.about) <= value.within
        : found === value;
    if (!agrees) lines.push(`${name} is ${found}, expected ${JSON.stringify(value)}: ${describeFound(finding)}`);
  }
  return lines;
}

function totalDifferences(expected: CaseFile, document: ReplayDocument): string[] {
  const lines: string[] = [];
  const machine = (id: string) => document.machines.find((one) => one.machineId === id);
  for (const [id, totals] of Object.entries(expected.totals)) {
    for (const [name, { about, within }] of Object.entries(totals)) {
      const found = (machine(id)?.residency as Record<string, number | null> | undefined)?.[name];
      if (typeof found !== 'number' || !(Math.abs(found - about) <= within)) {
        lines.push(`${id}: ${name} is ${found}, expected ${about} within ${within}`);
      }
    }
  }
  for (const [id, channels] of Object.entries(expected.unusable)) {
    for (const [channel, reasons] of Object.entries(channels)) {
      for (const [reason, count] of Object.entries(reasons)) {
        const found = machine(id)?.unusable[channel]?.[reason];
        if (found !== count) lines.push(`${id}: ${found} ${reason} values of ${channel}, expected ${count}`);
      }
    }
  }
  return lines;
}

function picks(pick: FindingPick, finding: FindingDocument): boolean {
  return pick.kind === finding.kind && (pick.machineId === undefined || pick.machineId === finding.machineId);
}

function nearby(wanted: ExpectedFinding, found: readonly FindingDocument[]): string {
  const same = found.filter((one) => one.kind === wanted.kind && one.machineId === wanted.machineId);
  return same.length === 0 ? 'none' : same.map((one) => `${one.startedAt} to ${one.endedAt ?? 'open'}`).join(', ');
}

function describeWanted(wanted: ExpectedFinding): string {
  const end = wanted.endedAt === undefined ? '' : ` to ${wanted.endedAt}`;
  return `${wanted.machineId} ${wanted.kind} ${wanted.startedAt}${end} within ${wanted.withinS} s`;
}

function describeFound(finding: FindingDocument): string {
  const values = JSON.stringify(finding.values);
  return `${finding.machineId} ${finding.kind} ${finding.startedAt} to ${finding.endedAt ?? 'open'} ${values}`;
}

/** The replay document as a readable report. */

import type { MachineReport, ReplayDocument } from '@warmbrick/contracts';
import { fmiTexts } from '@warmbrick/j1939';
import { type MachineProfile, profileWindow } from '@warmbrick/signals';
import type { DayPictures } from './day-picture.js';
import { dayLegend } from './day-picture.js';
import { durationText, type ZoneClock, zoneClock } from './durations.js';
import { findingWords } from './finding-words.js';
import { loadLines } from './load-text.js';

export interface ReportInput {
  readonly document: ReplayDocument;
  readonly pictures: ReadonlyMap<string, DayPictures>;
  profileOf(machineId: string): MachineProfile;
}

const findingsShown = 40;
const codesShown = 20;

/** Lines of the whole report: a table of all machines, then each of them. */
export function reportText(input: ReportInput): string {
  const { machines } = input.document;
  const byRisk = [...machines].sort((a, b) => (b.score?.value ?? -1) - (a.score?.value ?? -1));
  const blocks = [overview(byRisk), ...byRisk.map((machine) => machineText(machine, input)), closing(input.document)];
  return `${blocks.filter((block) => block !== '').join('\n\n')}\n`;
}

function overview(machines: readonly MachineReport[]): string {
  if (machines.length < 2) return '';
  const rows = machines.map((machine) => [
    machine.machineId,
    machine.score === null ? 'not run' : machine.score.value.toFixed(1),
    durationText(machine.residency.runningS),
    durationText(machine.residency.belowS),
    durationText(machine.longestIdleS),
    String(machine.findings.filter((finding) => finding.kind === 'hot-shutdown').length),
  ]);
  return table([['machine', 'soot risk', 'ran', 'below window', 'longest idle', 'hot stops'], ...rows]);
}

function table(rows: readonly (readonly string[])[]): string {
  const widths = (rows[0] as readonly string[]).map((_, k) =>
    Math.max(...rows.map((row) => (row[k] as string).length)),
  );
  const line = (row: readonly string[]) =>
    row.map((cell, k) => (k === 0 ? cell.padEnd(widths[k] as number) : cell.padStart(widths[k] as number))).join('   ');
  return rows.map(line).join('\n');
}

function machineText(machine: MachineReport, input: ReportInput): string {
  const profile = input.profileOf(machine.machineId);
  const clock = zoneClock(profile.timeZone);
  const pictures = input.pictures.get(machine.machineId)?.lines(clock) ?? [];
  return [
    headline(machine),
    ...scoreLines(machine),
    ...loadLines(machine.load).map((line) => `  ${line}`),
    ...observedLines(machine, profile, clock),
    ...(pictures.length > 0 ? ['', ...pictures.map((line) => `  ${line}`), `  ${dayLegend}`] : []),
    ...findingLines(machine, clock),
    ...faultLines(machine, clock),
    ...unusableLines(machine),
  ].join('\n');
}

function headline(machine: MachineReport): string {
  const value = machine.score === null ? 'not seen running, no score' : `soot risk ${machine.score.value} of 100`;
  const title = `${machine.machineId}: ${value}`;
  return `${title}\n${'='.repeat(title.length)}`;
}

function scoreLines(machine: MachineReport): string[] {
  const { score } = machine;
  if (score === null) return [];
  const parts = Object.entries(score.parts).map(([name, points]) => `${name.replace('-', ' ')} ${points}`);
  const lines = [`  made of ${parts.join(', ')}; confidence ${score.confidence}`];
  if (score.missing.length > 0) lines.push(`  missing: ${score.missing.join('; ')}`);
  return [...lines, `  ${score.advice}`, ...(score.caution === null ? [] : [`  ${score.caution}`])];
}

function observedLines(machine: MachineReport, profile: MachineProfile, clock: ZoneClock): string[] {
  const { residency, observed } = machine;
  const { lowC, highC } = profileWindow(profile);
  const span = (instant: string) => `${clock.day(Date.parse(instant))} ${clock.time(Date.parse(instant))}`;
  const sources = Object.keys(machine.exhaustSourceS);
  const source = sources.length > 0 ? sources.join(', ') : 'no channel';
  return [
    `  seen ${span(observed.from)} to ${span(observed.to)} (${clock.timeZone}), ${percent(observed.coverageRatio)} of it accounted for`,
    `  ran ${durationText(residency.runningS)}: idle ${durationText(residency.idleS)}, light ${durationText(residency.lightS)}, working ${durationText(residency.workingS)}; longest idle ${durationText(machine.longestIdleS)}`,
    `  window ${lowC}-${highC} C: below ${durationText(residency.belowS)} (below dosing release ${durationText(residency.belowReleaseS)}), in ${durationText(residency.inS)}, above ${durationText(residency.aboveS)}; exhaust temperature from ${source}`,
  ];
}

function findingLines(machine: MachineReport, clock: ZoneClock): string[] {
  const worth = machine.findings.filter((finding) => finding.kind !== 'engine-run');
  const runs = machine.findings.length - worth.length;
  const lines = worth.slice(0, findingsShown).map((finding) => {
    const at = Date.parse(finding.startedAt);
    return `    ${clock.day(at)} ${clock.time(at)}  ${finding.severity.padEnd(7)}  ${findingWords(finding)}`;
  });
  if (worth.length > findingsShown) lines.push(`    and ${worth.length - findingsShown} more (--json has all)`);
  return ['', `  ${runs} engine runs, ${worth.length} other findings`, ...lines];
}

function faultLines(machine: MachineReport, clock: ZoneClock): string[] {
  const codes = machine.faultCodes;
  if (codes.length === 0) return [];
  const lines = codes.slice(0, codesShown).map((code) => {
    const count = code.occurrenceCount === null ? '' : `, ${code.occurrenceCount} times`;
    return `    ${clock.time(Date.parse(code.firstAt))}  SPN ${code.spn} FMI ${code.fmi} (${fmiTexts[code.fmi]}) from address ${code.sourceAddress}, ${code.kind}${count}`;
  });
  if (codes.length > codesShown) lines.push(`    and ${codes.length - codesShown} more (--json has all)`);
  return ['', `  ${codes.length} fault codes`, ...lines];
}

function unusableLines(machine: MachineReport): string[] {
  const entries = Object.entries(machine.unusable).flatMap(([channel, reasons]) =>
    Object.entries(reasons).map(([reason, count]) => `${channel}: ${count} ${reason}`),
  );
  return entries.length === 0 ? [] : ['', `  values not used: ${entries.join('; ')}`];
}

function closing(document: ReplayDocument): string {
  const { rejects, reading } = document;
  const lines = [...reading.warnings];
  if (!reading.wasSorted) lines.push('the recordings were not in order of time and were sorted');
  if (reading.duplicates > 0) lines.push(`${reading.duplicates} samples came more than once`);
  if (rejects.count > 0) {
    const reasons = Object.entries(rejects.byReason).map(([reason, count]) => `${reason} ${count}`);
    lines.push(`rejected: ${rejects.count} (${reasons.join(', ')})`);
    lines.push(...rejects.examples.slice(0, 5).map((example) => `  ${example.where}: ${example.detail}`));
  }
  return lines.join('\n');
}

function percent(ratio: number): string {
  return `${Math.floor(ratio * 1000) / 10} %`;
}

/** One machine: what is known of it, what was last heard, its findings; kept up to date by the stream. */

import { type Signal, signal } from '@preact/signals';
import type { MachineDetail, MachineEvent, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { onFinding, onMachine, onResync } from '../api/live-stream.js';
import { throttle } from '../api/throttle.js';
import { createMachineFindings, type MachineFindings } from './machine-findings.js';

/** The machine's figures are asked for again this often at most, and only when something was heard of it. */
const detailIntervalMs = 30_000;

export type Heard = Pick<MachineEvent, 'lastSampleAt' | 'mode'>;

export interface MachineStore {
  readonly detail: Signal<MachineDetail | null>;
  /** The newest sample and mode; runs ahead of `detail`. */
  readonly heard: Signal<Heard | null>;
  readonly problem: Signal<Problem | null>;
  readonly findings: MachineFindings;
  loadDetail(): Promise<void>;
  stop(): void;
}

/** Makes the store of a machine and listens to the stream until stopped. */
export function createMachineStore(machineId: string): MachineStore {
  const detail = signal<MachineDetail | null>(null);
  const heard = signal<Heard | null>(null);
  const problem = signal<Problem | null>(null);
  const findings = createMachineFindings(machineId);
  const stopped = new AbortController();

  const hear = (event: Heard) => {
    if (heard.value !== null && Date.parse(event.lastSampleAt) < Date.parse(heard.value.lastSampleAt)) return;
    heard.value = { lastSampleAt: event.lastSampleAt, mode: event.mode };
  };
  const loadDetail = async () => {
    const answer = await api.getMachine({ path: { machineId }, signal: stopped.signal });
    if (answer === null) return;
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    detail.value = answer.body;
    hear(answer.body);
  };
  const refresh = throttle(loadDetail, detailIntervalMs);
  const stops = [
    onMachine((event) => {
      if (event.machineId !== machineId) return;
      hear(event);
      refresh();
    }),
    onFinding((finding) => {
      if (finding.machineId !== machineId) return;
      findings.hear(finding);
      refresh();
    }),
    onResync(refresh),
    refresh.cancel,
    findings.stop,
    () => stopped.abort(),
  ];
  return {
    detail,
    heard,
    problem,
    findings,
    loadDetail,
    stop: () => {
      for (const stop of stops) stop();
    },
  };
}

/** A simulation over HTTP: all machines side by side, as fast as the service takes them or at a given speed. */

import { performance } from 'node:perf_hooks';
import { setTimeout as wait } from 'node:timers/promises';
import type { FaultMessage, PacketMessage, TelemetryReceipt } from '@warmbrick/contracts';
import { blockChannels, type FaultReport, type SampleBlock } from '@warmbrick/signals';
import { createSimulation } from '@warmbrick/simulator';
import { type PostOptions, postJson } from './post-json.js';
import type { SimulationPlan } from './simulation-plan.js';

export interface SendOptions extends PostOptions {
  /** Of POST /v1/telemetry; fault codes go to /v1/faults beside it. */
  readonly url: URL;
  /** Simulated seconds in a real one; null: as fast as it goes. */
  readonly speed: number | null;
  readonly onSamples: (samples: number) => void;
}

export interface Sent {
  readonly samples: number;
  readonly faultReports: number;
  /** What the service did not take. */
  readonly rejected: number;
  /** Reason of the first of it. */
  readonly firstReject: string | null;
}

/** Length of a packet when time does not matter, and when it does, s. Source: engineering judgement. */
const fastPacketS = 600;
const timedPacketS = 60;
/** With a speed a packet takes about this long in real time at most, s, so that the stream does not come in gushes. */
const gushS = 1;
/** Values in one request at most, and requests under way at most. Source: design decision, about 2 MB each. */
const mostValues = 200_000;
const mostUnderWay = 4;

/**
 * Sends a simulation.
 *
 * Errors: those of `postJson`.
 */
export async function sendSimulation(plan: SimulationPlan, options: SendOptions): Promise<Sent> {
  const { speed } = options;
  const post = createPosts(options);
  const faultsUrl = new URL(options.url.href.replace(/\/telemetry(?=$|\?)/, '/faults'));
  const simulations = plan.fleet.map((machine) => createSimulation(machine, plan));
  const packetS = speed === null ? fastPacketS : Math.max(1, Math.min(timedPacketS, Math.round(speed * gushS)));
  const startedAt = performance.now();
  for (let atMs = plan.startMs; atMs < plan.endMs; ) {
    atMs = Math.min(plan.endMs, atMs + packetS * 1000);
    if (speed !== null) await wait(Math.max(0, startedAt + (atMs - plan.startMs) / speed - performance.now()));
    let held: PacketMessage[] = [];
    let values = 0;
    const reports: FaultReport[] = [];
    for (const simulation of simulations) {
      const block = simulation.advanceTo(atMs);
      for (const report of simulation.takeFaults()) reports.push(report);
      if (block === null) continue;
      held.push(packetOf(block));
      values += block.timeMs.length * (1 + blockChannels(block).length);
      if (values < mostValues) continue;
      await post.samples(options.url, held);
      held = [];
      values = 0;
    }
    if (held.length > 0) await post.samples(options.url, held);
    if (reports.length > 0) await post.faults(faultsUrl, reports.map(faultOf));
  }
  return post.finish();
}

function createPosts(options: SendOptions) {
  const underWay = new Set<Promise<void>>();
  const sent = { samples: 0, faultReports: 0, rejected: 0, firstReject: null as string | null };
  let failure: unknown = null;
  const start = async (url: URL, body: unknown, count: (receipt: TelemetryReceipt) => void): Promise<void> => {
    const task = postJson(url, JSON.stringify(body), options)
      .then((receipt) => {
        count(receipt);
        sent.rejected += receipt.rejected;
        const [first] = receipt.rejects;
        if (first !== undefined) sent.firstReject ??= `${first.where}: ${first.reason}: ${first.detail}`;
      })
      .catch((error: unknown) => {
        failure ??= error;
      })
      .finally(() => underWay.delete(task));
    underWay.add(task);
    if (underWay.size >= mostUnderWay) await Promise.race(underWay);
    if (failure !== null) throw failure;
  };
  return {
    samples: (url: URL, packets: readonly PacketMessage[]) =>
      start(url, packets, ({ accepted }) => {
        sent.samples += accepted;
        options.onSamples(sent.samples);
      }),
    faults: (url: URL, messages: readonly FaultMessage[]) =>
      start(url, messages, ({ accepted }) => {
        sent.faultReports += accepted;
      }),
    async finish(): Promise<Sent> {
      await Promise.all(underWay);
      if (failure !== null) throw failure;
      return sent;
    },
  };
}

function packetOf(block: SampleBlock): PacketMessage {
  const columns = blockChannels(block).map((name) => [name, Array.from(block.channels[name] ?? [], shortened)]);
  return { machineId: block.machineId, times: [...block.timeMs], channels: Object.fromEntries(columns) };
}

/** No value is null; the digits that a 32-bit float does not have are left out. */
function shortened(value: number): number | null {
  return Number.isNaN(value) ? null : Number(value.toPrecision(10));
}

function faultOf({ machineId, timeMs, sourceAddress, kind, lamps, flash, codes }: FaultReport): FaultMessage {
  return { machineId, time: timeMs, sourceAddress, kind, lamps, flash, codes: codes.map((code) => ({ ...code })) };
}

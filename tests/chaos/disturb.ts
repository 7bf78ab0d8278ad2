/** Kills and freezes members, the broker and the database, at moments that a seed decides. */

import { setTimeout as sleep } from 'node:timers/promises';
import type { BrokerNode } from '../kafka/maven-broker.js';
import type { Child } from '../store/child.js';

export interface Victims {
  readonly instances: readonly string[];
  readonly startMember: (instance: string) => Child;
  readonly broker: BrokerNode;
  readonly databasePid: () => number | null;
  readonly random: () => number;
  readonly say: (line: string) => void;
}

export interface DisturbanceCounts {
  kills: number;
  freezes: number;
  brokerRestarts: number;
  databaseKills: number;
  /** Members that ended by themselves, such as for want of a database at their start, and were started again. */
  ownEnds: number;
  fenced: number;
}

export interface Disturbance {
  readonly counts: Readonly<DisturbanceCounts>;
  /** Disturbs until the time is over. */
  rage(untilMs: number): Promise<void>;
  /** No more of it; members that end are still started again. */
  stop(): Promise<void>;
}

/** Longer than the session of the members lasts. */
const frozenMs = { least: 4500, spread: 3000 };
const restMs = { least: 700, spread: 1800 };

/** Starts the members and keeps them going. */
export function startMembers(victims: Victims): Disturbance {
  const counts = { kills: 0, freezes: 0, brokerRestarts: 0, databaseKills: 0, ownEnds: 0, fenced: 0 };
  const members = new Map<string, Child>();
  const frozen = new Set<Child>();
  const doomed = new Set<Child>();
  let isOver = false;
  const start = (instance: string) => {
    const child = victims.startMember(instance);
    members.set(instance, child);
    child.process.stderr?.on('data', (text: Buffer) => {
      counts.fenced += String(text).split('a transaction was turned away by the fence').length - 1;
    });
    child.process.once('exit', async () => {
      if (isOver) return;
      if (!doomed.has(child)) counts.ownEnds++;
      await sleep(500);
      if (!isOver) start(instance);
    });
  };
  for (const instance of victims.instances) start(instance);
  const { random, say } = victims;
  const pick = () => [...members.values()][Math.floor(random() * members.size)] as Child;

  const kill = () => {
    const child = pick();
    if (frozen.has(child)) return;
    doomed.add(child);
    child.process.kill('SIGKILL');
    counts.kills++;
    say('killed a member');
  };
  const thaws: Promise<void>[] = [];
  const freeze = () => {
    const child = pick();
    if (frozen.has(child) || child.process.exitCode !== null) return;
    frozen.add(child);
    child.process.kill('SIGSTOP');
    counts.freezes++;
    say('froze a member');
    const thaw = async () => {
      await sleep(frozenMs.least + random() * frozenMs.spread);
      frozen.delete(child);
      child.process.kill('SIGCONT');
    };
    thaws.push(thaw());
  };
  const restartBroker = async () => {
    counts.brokerRestarts++;
    say('killed the broker');
    await victims.broker.kill();
    await victims.broker.start();
  };
  const killDatabase = () => {
    const pid = victims.databasePid();
    if (pid === null) return;
    counts.databaseKills++;
    process.kill(pid, 'SIGKILL');
    say('killed the database');
  };

  return {
    counts,
    async rage(untilMs) {
      // The dear ones once each in a short run, at a third and at two thirds of it.
      const startedMs = Date.now();
      const rare = [restartBroker, killDatabase];
      while (Date.now() < untilMs) {
        await sleep(restMs.least + random() * restMs.spread);
        const ratio = (Date.now() - startedMs) / Math.max(1, untilMs - startedMs);
        const due = Math.floor(ratio * 3 * Math.max(1, (untilMs - startedMs) / 60_000));
        if (counts.brokerRestarts + counts.databaseKills < due) await rare[due % 2]?.();
        else if (random() < 0.5) kill();
        else freeze();
      }
      await Promise.all(thaws);
    },
    async stop() {
      isOver = true;
      await Promise.all([...members.values()].map((child) => child.end('SIGKILL')));
    },
  };
}

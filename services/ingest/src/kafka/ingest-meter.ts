/** What the pipeline counts about itself. */

import type { Metrics } from '@warmbrick/runtime';

/** Where figures go; nothing in it names a machine. */
export interface IngestMeter {
  /** One transaction: its batches, messages and samples, and how long it took from the first decoding to the commit. */
  committed(round: { batches: number; messages: number; samples: number; tookS: number }): void;
  rejected(reason: string): void;
  fenced(): void;
  /** How far the assigned partitions are behind, together and at worst; and machines in memory. */
  standing(now: { messages: number; seconds: number; machines: number }): void;
  findingsSent(count: number): void;
}

/** Upper bounds in seconds. Source: engineering judgement: from a small batch to the limit of a statement. */
const secondsBuckets = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30];

/** A meter on a registry of metrics. */
export function createIngestMeter(metrics: Metrics): IngestMeter {
  const batches = metrics.counter({ name: 'ingest_batches_total', help: 'Batches of partitions that were committed.' });
  const messages = metrics.counter({ name: 'ingest_messages_total', help: 'Messages that were committed.' });
  const samples = metrics.counter({ name: 'ingest_samples_total', help: 'Samples in them.' });
  const rounds = metrics.histogram({
    name: 'ingest_commit_seconds',
    help: 'From the first decoding to the commit.',
    buckets: secondsBuckets,
  });
  const rejects = metrics.counter({
    name: 'ingest_rejects_total',
    help: 'Messages not taken, or not whole.',
    labels: ['reason'],
  });
  const fenced = metrics.counter({
    name: 'ingest_fenced_total',
    help: 'Commits stopped as another owned the partition.',
  });
  const lagMessages = metrics.gauge({
    name: 'ingest_lag_messages',
    help: 'Messages of our partitions not handled yet.',
  });
  const lagSeconds = metrics.gauge({ name: 'ingest_lag_seconds', help: 'Age of the worst partition that is behind.' });
  const machines = metrics.gauge({ name: 'ingest_machines_in_memory', help: 'Machines whose state is in memory.' });
  const findings = metrics.counter({
    name: 'ingest_findings_sent_total',
    help: 'News of findings that were delivered.',
  });
  return {
    committed(round) {
      batches.inc(round.batches);
      messages.inc(round.messages);
      samples.inc(round.samples);
      rounds.observe(round.tookS);
    },
    rejected: (reason) => rejects.inc({ reason }),
    fenced: () => fenced.inc(),
    standing(now) {
      lagMessages.set(now.messages);
      lagSeconds.set(now.seconds);
      machines.set(now.machines);
    },
    findingsSent: (count) => findings.inc(count),
  };
}

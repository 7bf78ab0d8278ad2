/** Numbers about ourselves for Prometheus; the only importer of its client. */

import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';

export interface MetricOptions {
  /** Snake case with the unit last, `_total` for counters. Source: Prometheus documentation, "Metric and label naming". */
  readonly name: string;
  readonly help: string;
  /** From short closed lists; never a machine's id. */
  readonly labels?: readonly string[];
}

export interface HistogramOptions extends MetricOptions {
  /** Upper bounds, rising. */
  readonly buckets: readonly number[];
}

export interface Metrics {
  counter(options: MetricOptions): Counter;
  gauge(options: MetricOptions): Gauge;
  histogram(options: HistogramOptions): Histogram;
  /** The page that a scraper reads, and its content type. */
  expose(): Promise<{ contentType: string; body: string }>;
}

/** A registry of its own with the figures of the process: memory, event loop, garbage collection, open files. */
export function createMetrics(service: string): Metrics {
  const registry = new Registry();
  registry.setDefaultLabels({ service });
  collectDefaultMetrics({ register: registry });
  const shared = ({ name, help, labels }: MetricOptions) => ({
    name: `warmbrick_${name}`,
    help,
    labelNames: [...(labels ?? [])],
    registers: [registry],
  });
  return {
    counter: (options) => new Counter(shared(options)),
    gauge: (options) => new Gauge(shared(options)),
    histogram: (options) => new Histogram({ ...shared(options), buckets: [...options.buckets] }),
    expose: async () => ({ contentType: registry.contentType, body: await registry.metrics() }),
  };
}

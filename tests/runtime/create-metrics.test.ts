import { createMetrics } from '@warmbrick/runtime';
import { describe, expect, it } from 'vitest';

describe('metrics', () => {
  // Source: Prometheus documentation, "Exposition formats", text-based format 0.0.4.
  it('are exposed in the text format, each under our prefix and with the name of the service', async () => {
    const metrics = createMetrics('ingest');
    const batches = metrics.counter({ name: 'batches_total', help: 'Batches committed.', labels: ['result'] });
    batches.inc({ result: 'committed' }, 2);
    metrics.gauge({ name: 'queue_batches', help: 'Batches waiting.' }).set(3);
    metrics.histogram({ name: 'commit_seconds', help: 'Time of a commit.', buckets: [0.1, 1] }).observe(0.5);
    const { contentType, body } = await metrics.expose();
    expect(contentType).toMatch(/^text\/plain; version=0\.0\.4/);
    const lines = body.split('\n');
    expect(lines).toContain('# TYPE warmbrick_batches_total counter');
    expect(lines).toContain('warmbrick_batches_total{result="committed",service="ingest"} 2');
    expect(lines).toContain('warmbrick_queue_batches{service="ingest"} 3');
    expect(lines).toContain('warmbrick_commit_seconds_bucket{le="0.1",service="ingest"} 0');
    expect(lines).toContain('warmbrick_commit_seconds_bucket{le="1",service="ingest"} 1');
    expect(body).toContain('process_resident_memory_bytes{service="ingest"}');
  });

  it('of two services in one process do not mix', async () => {
    createMetrics('a').counter({ name: 'x_total', help: 'X.' }).inc();
    expect((await createMetrics('b').expose()).body).not.toContain('warmbrick_x_total');
  });
});

/** The compose file as data: what it sets, the programs have to know. */

import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { readConfig } from '@warmbrick/all-in-one';
import { explainIngestConfig } from '@warmbrick/ingest';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';

const root = fileURLToPath(new URL('../../', import.meta.url));

interface Service {
  readonly image: string;
  readonly build?: { readonly context: string; readonly dockerfile: string };
  readonly command?: readonly string[];
  readonly environment: Readonly<Record<string, string>>;
  readonly depends_on?: Readonly<Record<string, { condition: string }>>;
  readonly healthcheck?: object;
  readonly ports?: readonly string[];
}

const compose = parse(readFileSync(`${root}deploy/compose.yaml`, 'utf8')) as {
  services: Record<string, Service>;
  volumes: object;
};
const service = (name: string) => compose.services[name] as Service;
/** As compose fills variables in. */
const envOf = (name: string) =>
  Object.fromEntries(
    Object.entries(service(name).environment).map(([key, value]) => [
      key,
      String(value).replace(/\$\{\w+:\?[^}]*\}/g, 'chosen'),
    ]),
  );

describe('deploy/compose.yaml', () => {
  it('gives the ingest process settings that it knows, and all that it needs', () => {
    const explained = explainIngestConfig({ env: envOf('ingest') });
    const byName = new Map(explained.map(({ name, value }) => [name, value]));
    expect(byName.get('brokers')).toEqual(['kafka:9092']);
    expect(byName.get('createTopics')).toBe(true);
    expect(() => explainIngestConfig({ env: { ...envOf('ingest'), WARMBRICK_GROUPID: 'x' } })).toThrow(/GROUP_ID/);
  });

  it('gives the page settings that it knows', () => {
    expect(readConfig(envOf('page'))).toMatchObject({ port: 8080, live: false, host: '127.0.0.1' });
  });

  it('names images with a version, but for our own, which it builds', () => {
    for (const { image, build } of Object.values(compose.services)) {
      if (build === undefined) expect(image).toMatch(/:\d+\.\d+(\.\d+)?$/);
      else expect(existsSync(`${root}${build.dockerfile}`)).toBe(true);
    }
  });

  it('runs programs that the build makes', () => {
    for (const name of ['ingest', 'page']) {
      const file = service(name).command?.[1] as string;
      expect(existsSync(`${root}${file.replace('/dist/', '/src/').replace(/\.js$/, '.ts')}`)).toBe(true);
    }
  });

  it('waits for what has a health check, and opens ports to this machine only', () => {
    for (const { depends_on: needs = {}, ports = [] } of Object.values(compose.services)) {
      for (const name of Object.keys(needs)) expect(service(name).healthcheck).toBeDefined();
      for (const port of ports) expect(port).toMatch(/^127\.0\.0\.1:/);
    }
  });
});

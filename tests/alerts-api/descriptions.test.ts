import { readFile } from 'node:fs/promises';
import { createConfig, lintFromString } from '@redocly/openapi-core';
import { topics } from '@warmbrick/contracts';
import { describe, expect, it } from 'vitest';
import { apiOperations } from './api-operations.js';
import { freshDescriptions } from './fresh-descriptions.js';

const root = new URL('../../', import.meta.url);
const fresh = await freshDescriptions();

describe('the committed descriptions and the client', () => {
  it.each(Object.keys(fresh))('%s is as the schemas are now; else run `npm run client:make`', async (path) => {
    const committed = await readFile(new URL(path, root), 'utf8').catch(() => 'there is no such file');
    expect(committed === fresh[path], `${path} is out of date: run "npm run client:make" and commit it`).toBe(true);
  });
});

describe('openapi.json', () => {
  // Source: OpenAPI Specification 3.1.0, by the recommended rules of the linter.
  it('passes the linter without an error or a warning', async () => {
    const config = await createConfig({ extends: ['recommended'] });
    const source = fresh['services/alerts-api/openapi.json'] ?? '';
    const problems = await lintFromString({ source, config });
    expect(problems.map(({ ruleId, message, location }) => `${ruleId}: ${message} ${location[0]?.pointer}`)).toEqual(
      [],
    );
  });

  it('is noticed by the linter when it is wrong', async () => {
    const config = await createConfig({ extends: ['recommended'] });
    const source = JSON.stringify({ openapi: '3.1.0', info: { title: 'x' }, paths: { a: {} } });
    expect((await lintFromString({ source, config })).length).toBeGreaterThan(0);
  });

  it('names each operation once', async () => {
    const { operations } = await apiOperations();
    const names = operations.map(({ name }) => name);
    expect(new Set(names).size).toBe(names.length);
    expect(names).toContain('getMachineSamples');
  });
});

describe('asyncapi.json', () => {
  // Source: AsyncAPI Specification 3.0.0, Channels Object, Operation Object.
  it('has every topic, each with its operation and its messages', () => {
    const document = JSON.parse(fresh['services/alerts-api/asyncapi.json'] ?? '{}');
    const addresses = Object.values(document.channels).map((channel) => (channel as { address: string }).address);
    expect(addresses.sort()).toEqual(Object.values(topics).sort());
    for (const { channel } of Object.values(document.operations) as { channel: { $ref: string } }[]) {
      expect(document.channels).toHaveProperty(channel.$ref.split('/').pop() ?? '');
    }
    for (const { messages } of Object.values(document.channels) as { messages: Record<string, { $ref: string }> }[]) {
      for (const { $ref } of Object.values(messages)) {
        expect(document.components.messages[$ref.split('/').pop() ?? '']?.payload).toMatchObject({});
      }
    }
  });
});

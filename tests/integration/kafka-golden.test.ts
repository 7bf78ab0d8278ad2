/** Replay is live: recorded cases streamed through Kafka give what replaying their files gives, to the byte. */

import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { builtInThresholds, type ResidencyRow } from '@warmbrick/analysis';
import { toMachineReport } from '@warmbrick/contracts';
import { readInOrder } from '@warmbrick/recordings';
import { defaultProfile, type SampleBlock } from '@warmbrick/signals';
import { replayRecordings } from '@warmbrick/workbench';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readCaseFile } from '../golden/case-file.js';
import { pieces } from '../ingest/drive.js';
import { findKafka, type TestKafka } from '../kafka/kafka-provider.js';
import type { Child } from '../store/child.js';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { allFindings, createWorld, type IngestWorld } from './ingest-world.js';
import { packetMessage, shuffled, singleMessages } from './messages.js';

const found = await findKafka({ nodes: 1 });
const root = fileURLToPath(new URL('../../replay-data/', import.meta.url));
const cases = readdirSync(root, { withFileTypes: true })
  .filter((entry) => entry.isDirectory())
  .map(({ name }) => ({ name, file: readCaseFile(`${root}${name}/case.yaml`) }));

afterAll(() => found?.stop());

/** Machines of different cases must not meet, so each case gets its own names. */
const nameOf = (caseName: string, machineId: string) => `${caseName}:${machineId}`;

async function replayed({ name, file }: (typeof cases)[number]) {
  const rows = new Map<string, Map<number, ResidencyRow>>();
  const { document } = await replayRecordings({
    paths: file.recordings.map((one) => `${root}${name}/${one}`),
    profiles: { profileOf: (machineId) => file.machines[machineId] ?? defaultProfile },
    thresholds: builtInThresholds,
    reading: {},
    onRow: (machineId, row) => {
      const own = rows.get(machineId) ?? new Map<number, ResidencyRow>();
      rows.set(machineId, own.set(row.startedMs, row));
    },
  });
  return { document, rows };
}

async function blocksOf({ name, file }: (typeof cases)[number]): Promise<SampleBlock[]> {
  const blocks: SampleBlock[] = [];
  await readInOrder(
    file.recordings.map((one) => `${root}${name}/${one}`),
    {},
    { block: (block) => blocks.push(block), faults: () => {}, restart: () => blocks.splice(0) },
  );
  return blocks;
}

/** With the names of the case taken out of ids again. */
function asText(value: unknown, caseName: string): string {
  return JSON.stringify(value).replaceAll(`${caseName}:`, '');
}

describe.skipIf(found === null)('recorded cases through Kafka with three members', () => {
  const kafka = found as TestKafka;
  let server: TestServer;
  let world: IngestWorld;
  let members: Child[];

  beforeAll(async () => {
    server = await startTestServer();
    const databaseUrl = await server.freshDatabase();
    const store = await server.openOn(databaseUrl);
    world = await createWorld(kafka, { databaseUrl, partitions: 6 });
    for (const { name, file } of cases) {
      for (const [id, profile] of Object.entries(file.machines)) await store.putMachine(nameOf(name, id), profile);
    }
    members = ['one', 'two', 'three'].map((instance) => world.startMember(instance));
    await Promise.all(members.map((member) => member.line('ready')));
    const messages = [];
    for (const one of cases) {
      for (const block of await blocksOf(one)) {
        const named = { ...block, machineId: nameOf(one.name, block.machineId) };
        const parts = pieces(named, 300);
        for (const [at, part] of parts.entries()) {
          // Some as single samples, some twice.
          if (at % 7 === 3) messages.push(...singleMessages(world.names.samples, part));
          else messages.push(packetMessage(world.names.samples, part));
          if (at % 5 === 2) messages.push(packetMessage(world.names.samples, part));
        }
      }
    }
    await world.send(shuffled(messages, 4));
    await world.drained();
  }, 240_000);
  afterAll(async () => {
    await world?.stop();
    await server?.stop();
  }, 60_000);

  it('had every member at work', () => {
    for (const member of members) {
      // The last join, when all three were there.
      const assigned = member.told.filter((line) => 'assigned' in line).at(-1)?.assigned;
      expect(assigned).toBeGreaterThan(0);
    }
  });

  for (const one of cases) {
    it(`${one.name}: findings, rows and summary are those of the replay`, async () => {
      const store = await server.openOn(world.databaseUrl);
      const wanted = await replayed(one);
      expect(wanted.document.machines.length).toBeGreaterThan(0);
      for (const report of wanted.document.machines) {
        const machineId = nameOf(one.name, report.machineId);
        const machine = await store.getMachine(machineId);
        if (machine === null) throw new Error(`${machineId} is not stored`);
        const streamed = toMachineReport(machine.summary, await allFindings(store, machineId), {
          faultCodes: report.faultCodes,
          unusable: report.unusable,
        });
        expect(asText(streamed, one.name)).toBe(JSON.stringify(report));
        const rows = (await store.listRows([machineId], 0, 1e14)).get(machineId) ?? [];
        const wantedRows = [...(wanted.rows.get(report.machineId)?.values() ?? [])];
        wantedRows.sort((a, b) => a.startedMs - b.startedMs);
        expect(asText(rows, one.name)).toBe(JSON.stringify(wantedRows));
      }
    });
  }
});

/** Walks replay-data: every folder is a test. */

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { readCaseFile } from './case-file.js';
import { differences } from './compare-findings.js';
import { replayCase } from './replay-case.js';

const root = fileURLToPath(new URL('../../replay-data/', import.meta.url));
const folders = readdirSync(root, { withFileTypes: true })
  .filter((entry) => entry.isDirectory())
  .map((entry) => entry.name);

/** More than this and a clone of the repository becomes slow. Source: design decision. */
const largestCaseBytes = 400_000;

describe('replay-data', () => {
  it('has cases', () => {
    expect(folders.length).toBeGreaterThanOrEqual(7);
  });

  for (const name of folders) {
    const folder = `${root}${name}/`;

    describe(name, () => {
      it('says what it shows, and shows it', () => {
        expect(readFileSync(`${folder}README.md`, 'utf8').length).toBeGreaterThan(100);
        const wanted = readCaseFile(`${folder}case.yaml`);
        for (const kind of wanted.shows) expect(wanted.expected.map((one) => one.kind)).toContain(kind);
      });

      it('is small and has every file it names', () => {
        const wanted = readCaseFile(`${folder}case.yaml`);
        const files = readdirSync(folder);
        for (const file of [...wanted.recordings, ...wanted.sameAnswerFrom]) expect(files).toContain(file);
        const bytes = files.reduce((sum, file) => sum + readFileSync(`${folder}${file}`).length, 0);
        expect(bytes).toBeLessThan(largestCaseBytes);
      });

      it('is found as case.yaml says, and nothing else', async () => {
        const wanted = readCaseFile(`${folder}case.yaml`);
        const { document } = await replayCase(folder, wanted.recordings, wanted);
        expect(document.machines.map((machine) => machine.machineId)).toEqual(Object.keys(wanted.machines).sort());
        expect(differences(wanted, document)).toEqual([]);
        if (wanted.reading !== undefined) expect(document.reading).toMatchObject(wanted.reading);
      });

      it('gives expected.json to the digit', async () => {
        expect(existsSync(`${folder}expected.json`), 'no expected.json; write it with: npm run golden:update').toBe(
          true,
        );
        const wanted = readCaseFile(`${folder}case.yaml`);
        const reference: unknown = JSON.parse(readFileSync(`${folder}expected.json`, 'utf8'));
        expect((await replayCase(folder, wanted.recordings, wanted)).document).toEqual(reference);
      });

      it('gives the same answer from files that hold the same samples another way', async () => {
        const wanted = readCaseFile(`${folder}case.yaml`);
        const whole = (await replayCase(folder, wanted.recordings, wanted)).document;
        for (const file of wanted.sameAnswerFrom) {
          expect((await replayCase(folder, [file], wanted)).document.machines).toEqual(whole.machines);
        }
      });
    });
  }
});

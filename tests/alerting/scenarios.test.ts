import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { playScenario } from './play-scenario.js';
import { readScenario } from './scenario-file.js';

const folder = join(import.meta.dirname, '../scenarios/alerts');
const files = readdirSync(folder).filter((name) => name.endsWith('.yaml'));

describe('scenarios of alerts', () => {
  it('are at least forty, some of them of nothing', () => {
    expect(files.length).toBeGreaterThanOrEqual(40);
    const ofNothing = files.filter((file) => readScenario(join(folder, file)).expect.length === 0);
    expect(ofNothing.length).toBeGreaterThanOrEqual(6);
  });

  for (const file of files) {
    const scenario = readScenario(join(folder, file));
    it(`${file}: ${scenario.title}`, () => {
      const { lines, events, driver } = playScenario(scenario);
      expect(lines).toEqual(scenario.expect);
      for (const [at, part] of Object.entries(scenario.says)) expect(events[Number(at)]?.words.text).toContain(part);
      expect(JSON.stringify(driver.state()).length).toBeLessThan(100_000);
    });
  }
});

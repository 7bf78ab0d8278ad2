/**
 * Writes the recordings and case files of replay-data from the simulator: `npm run golden:make`.
 *
 * What it writes comes from seeds alone. It never writes `expected.json` and never looks at the analysis.
 */

import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { SampleBlock } from '@warmbrick/signals';
import { createSimulation, type SimulatedMachine } from '@warmbrick/simulator';
import { stringify } from 'yaml';
import { candump } from './can-faults.js';
import { type CaseFileInput, caseFileSchema } from './case-file.js';
import { type Recipe, recipes } from './case-recipes.js';
import { expectedFindings, expectedTotals, type RecordedMachine } from './expect-from-truth.js';
import { writeRecording } from './write-recording.js';

const root = fileURLToPath(new URL('../../replay-data/', import.meta.url));
const only = process.argv.slice(2);

for (const recipe of recipes) {
  if (only.length === 0 || only.includes(recipe.folder)) await make(recipe);
}

async function make(recipe: Recipe): Promise<void> {
  const folder = `${root}${recipe.folder}/`;
  mkdirSync(folder, { recursive: true });
  const recorded = recipe.machines.map((machine) => record(machine, recipe));
  const plans = plansOf(recipe, recorded);
  for (const { file, blocks, reports, options } of plans) {
    if (reports !== undefined) writeFileSync(`${folder}${file}`, candump(reports));
    else await writeRecording(`${folder}${file}`, blocks, options);
  }
  const caseFile = toCaseFile(
    recipe,
    recorded,
    plans.map((plan) => plan.file),
  );
  caseFileSchema.parse(caseFile);
  const header =
    '# Written by tests/golden/make-cases.ts from the truth of the simulation; see replay-data/README.md.\n';
  writeFileSync(`${folder}case.yaml`, header + stringify(caseFile, { lineWidth: 118, aliasDuplicateObjects: false }));
  process.stdout.write(`${recipe.folder}: ${caseFile.expected.length} findings expected\n`);
}

function plansOf(recipe: Recipe, recorded: readonly RecordedMachine[]) {
  return recipe.files(
    recorded.map(({ block }) => block),
    recorded.flatMap(({ reports }) => reports),
  );
}

function record(machine: SimulatedMachine, recipe: Recipe): RecordedMachine {
  const { seed, startMs } = recipe;
  const seconds = (machine.schedule ?? []).reduce((sum, segment) => sum + segment.durationS, 0);
  const simulation = createSimulation(machine, { seed, startMs });
  const block = simulation.advanceTo(startMs + seconds * 1000) as SampleBlock;
  const honest: SimulatedMachine = {
    ...machine,
    channels: ['engineSpeedRpm', 'engineLoadPct', 'scrInletTempC'],
    gateway: { awakeAfterKeyOffS: seconds },
    sensorFaults: [],
  };
  const everySecond = createSimulation(honest, { seed, startMs }).advanceTo(startMs + seconds * 1000) as SampleBlock;
  // A derate that still goes on at the end of the recording is as true as one that is over.
  const endMs = startMs + seconds * 1000;
  const open = simulation.ongoing().filter(({ kind }) => kind === 'derate');
  const truth = [...simulation.truth, ...open.map((event) => ({ ...event, endedMs: endMs + 1 }))];
  return { machine, block, reports: simulation.takeFaults(), everySecond, truth };
}

function toCaseFile(recipe: Recipe, recorded: readonly RecordedMachine[], files: readonly string[]): CaseFileInput {
  const sameAnswerFrom = recipe.sameAnswerFrom ?? [];
  const byMachine = <T>(of: (one: RecordedMachine) => T) =>
    Object.fromEntries(recorded.map((one) => [one.machine.machineId, of(one)]));
  return {
    title: recipe.title,
    shows: [...recipe.shows],
    recordings: files.filter((file) => !sameAnswerFrom.includes(file)),
    ...(sameAnswerFrom.length > 0 ? { sameAnswerFrom: [...sameAnswerFrom] } : {}),
    machines: byMachine((one) => one.machine.profile),
    expected: [
      ...recorded.flatMap((one) => [...expectedFindings(one, recipe), ...coldRun(one, recipe)]),
      ...(recipe.alsoExpected ?? []),
    ],
    ...(recipe.isDisordered === true ? { reading: repeated(recipe, recorded) } : {}),
    ...(recipe.hasTotals === false ? {} : { totals: byMachine(expectedTotals) }),
    ...unusableValues(recipe, recorded),
    absent: [...(recipe.absent ?? [])],
    ignore: [...(recipe.ignore ?? [])],
  };
}

/** A case about cold running has a machine that is below the window from start to stop. */
function coldRun(recorded: RecordedMachine, recipe: Recipe): CaseFileInput['expected'] {
  if (!recipe.shows.includes('cold-dwell')) return [];
  const { runningS, belowS } = expectedTotals(recorded);
  if (runningS?.about !== belowS?.about) throw new Error(`${recipe.folder}: the machine was warm at times`);
  return recorded.truth.flatMap((event) =>
    event.kind === 'engine-run'
      ? [
          {
            machineId: recorded.machine.machineId,
            kind: 'cold-dwell' as const,
            startedAt: new Date(event.startedMs).toISOString(),
            endedAt: new Date(event.endedMs).toISOString(),
            withinS: 15,
            values: { durationS: { about: event.durationS, within: 20 } },
          },
        ]
      : [],
  );
}

/** How many samples of the disordered files come again. */
function repeated(recipe: Recipe, recorded: readonly RecordedMachine[]): CaseFileInput['reading'] {
  const plans = plansOf(recipe, recorded);
  const sent = plans
    .filter(({ file }) => !(recipe.sameAnswerFrom ?? []).includes(file))
    .flatMap(({ blocks }) => blocks.map((block) => block.timeMs.length))
    .reduce((sum, count) => sum + count, 0);
  const sampled = recorded.reduce((sum, { block }) => sum + block.timeMs.length, 0);
  return { wasSorted: false, duplicates: sent - sampled };
}

/** What stands in a recording for "no value" and is no possible value is counted. */
function unusableValues(recipe: Recipe, recorded: readonly RecordedMachine[]): Pick<CaseFileInput, 'unusable'> {
  const [plan] = plansOf(recipe, recorded);
  const noValue = Object.keys(plan?.options?.noValue ?? {}) as (keyof SampleBlock['channels'])[];
  if (noValue.length === 0) return {};
  const count = (block: SampleBlock, name: keyof SampleBlock['channels']) =>
    [...(block.channels[name] ?? [])].filter((value) => Number.isNaN(value)).length;
  const unusable = recorded.map(({ machine, block }) => [
    machine.machineId,
    Object.fromEntries(noValue.map((name) => [name, { implausible: count(block, name) }])),
  ]);
  return { unusable: Object.fromEntries(unusable) };
}

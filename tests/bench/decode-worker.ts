/** Entry of a worker thread: decodes parts of a file and does nothing with them. */

import { parentPort, workerData } from 'node:worker_threads';
import { analysedChannels } from '@warmbrick/analysis';
import { type ParquetPart, readInOrder } from '@warmbrick/recordings';

const { path, parts } = workerData as { path: string; parts: readonly ParquetPart[] };
const sink = { block: () => {}, restart: () => {} };
let samples = 0;
for (const part of parts) {
  samples += (await readInOrder([path], { channels: analysedChannels, lendBlocks: true, part }, sink)).samples;
}
parentPort?.postMessage(samples);

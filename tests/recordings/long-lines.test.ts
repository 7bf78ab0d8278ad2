import { createWriteStream } from 'node:fs';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import { expect, test } from 'vitest';
import { collectInOrder, testFolder } from './collected.js';

const pieceBytes = 1_000_000;

/** A good row, one line of 100 MB, a good row. */
function* lines(): Generator<Buffer> {
  yield Buffer.from('machineId,time,exhaustTempC\nm,1000,200\n');
  const piece = Buffer.alloc(pieceBytes, 'x');
  for (let i = 0; i < 100; i++) yield piece;
  yield Buffer.from('\nm,2000,210\n');
}

test('a line of 100 MB is skipped without being kept', async () => {
  const path = join(testFolder(), 'long.csv.gz');
  await pipeline(Readable.from(lines()), createGzip({ level: 1 }), createWriteStream(path));
  let peakBytes = 0;
  const before = process.memoryUsage.rss();
  const timer = setInterval(() => {
    peakBytes = Math.max(peakBytes, process.memoryUsage.rss() - before);
  }, 5);
  const read = await collectInOrder([path]);
  clearInterval(timer);
  expect(read.content.m?.timeMs).toEqual([1000, 2000]);
  expect(read.report.rejects.byReason).toEqual({ 'line-too-long': 1 });
  expect(read.report.rejects.examples[0]?.where).toBe(`${path}, line 3`);
  expect(peakBytes).toBeLessThan(80_000_000);
});

test('a line at the limit is read, one byte more is not', async () => {
  const { writeFileSync } = await import('node:fs');
  const path = join(testFolder(), 'limit.csv');
  const row = (time: number, bytes: number): string => `m,${time},200`.padEnd(bytes, ' ');
  writeFileSync(
    path,
    `machineId,time,exhaustTempC\n${row(1000, 1_048_576)}\n${row(2000, 1_048_577)}\n${row(3000, 12)}\n`,
  );
  const read = await collectInOrder([path]);
  expect(read.content.m?.timeMs).toEqual([1000, 3000]);
});

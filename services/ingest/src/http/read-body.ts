/** Takes in the body of a request, decompressed, and stops at its limit. */

import { Readable } from 'node:stream';
import { createGunzip } from 'node:zlib';

/** A body, or why there is none. */
export type ReadBody =
  | { readonly form: 'body'; readonly bytes: Buffer }
  | { readonly form: 'too-large' | 'unsupported' | 'damaged' | 'cut-short' };

/**
 * Reads a body to its end and decompresses it.
 *
 * It stops as soon as more than `mostBytes` came out of it, so that a small body that decompresses to a huge one costs no
 * more memory than a permitted one.
 * Errors: none; a connection that ends early is `cut-short`.
 */
export async function readBody(
  body: AsyncIterable<Uint8Array>,
  encoding: string | undefined,
  mostBytes: number,
): Promise<ReadBody> {
  const coding = (encoding ?? 'identity').trim().toLowerCase();
  if (coding === 'identity' || coding === '') return collect(body, mostBytes);
  // Source: RFC 9110, 8.4.1.3: "x-gzip" is to be taken as "gzip".
  if (coding !== 'gzip' && coding !== 'x-gzip') return { form: 'unsupported' };
  return gunzip(body, mostBytes);
}

/** Decompresses what lies in memory or comes as a stream, under the same limit. */
export async function gunzip(body: AsyncIterable<Uint8Array>, mostBytes: number): Promise<ReadBody> {
  const source = Readable.from(body, { objectMode: false });
  const plain = createGunzip();
  let isSourceBroken = false;
  source.on('error', (error) => {
    isSourceBroken = true;
    plain.destroy(error);
  });
  source.pipe(plain);
  try {
    const read = await collect(plain, mostBytes);
    return read.form === 'cut-short' && !isSourceBroken ? { form: 'damaged' } : read;
  } finally {
    source.destroy();
    plain.destroy();
  }
}

async function collect(body: AsyncIterable<Uint8Array>, mostBytes: number): Promise<ReadBody> {
  const chunks: Uint8Array[] = [];
  let length = 0;
  try {
    for await (const chunk of body) {
      length += chunk.length;
      if (length > mostBytes) return { form: 'too-large' };
      chunks.push(chunk);
    }
  } catch {
    return { form: 'cut-short' };
  }
  return { form: 'body', bytes: Buffer.concat(chunks, length) };
}

/** What an API key looks like: `wbk_`, its id, `_`, and 256 random bits. Only its hash is kept. */

import { createHash, randomBytes } from 'node:crypto';

/** Bits that nobody guesses. Source: NIST SP 800-63B, 5.1.4.2 asks for 112 at least. */
const secretBytes = 32;
const idBytes = 6;
/** Characters of the secret that are shown to tell keys apart. */
const hintLength = 4;

const pattern = /^wbk_([0-9a-f]{12})_([\w-]{43})$/;

export interface FreshKey {
  readonly keyId: string;
  /** The whole key, shown once. */
  readonly text: string;
  readonly secret: { readonly hash: Uint8Array; readonly hint: string };
}

/** Makes a key, or a new secret for a key that there is. */
export function makeKey(keyId = randomBytes(idBytes).toString('hex')): FreshKey {
  const secret = randomBytes(secretBytes).toString('base64url');
  const text = `wbk_${keyId}_${secret}`;
  return { keyId, text, secret: { hash: hashOf(text), hint: secret.slice(0, hintLength) } };
}

/** The id in a key's text; null for a text that is no key of ours. */
export function keyIdOf(text: string): string | null {
  return pattern.exec(text)?.[1] ?? null;
}

/** SHA-256. A slow hash is for passwords; nobody tries 2^256 keys. */
export function hashOf(text: string): Uint8Array {
  return createHash('sha256').update(text).digest();
}

/** Finds out whose key a text is, and remembers it for a moment. */

import { timingSafeEqual } from 'node:crypto';
import { type Role, roles } from '@warmbrick/contracts';
import type { ApiKey, Store } from '@warmbrick/store';
import type { Caller } from './caller.js';
import { hashOf, keyIdOf } from './key-text.js';

/** A key that another process revoked may still be good for so long, in ms. Expiry is looked at each time. */
const rememberedMs = 2000;
/** Keys remembered at most. */
const mostRemembered = 1000;
/** A use of a key is noted so often, in ms. */
const usesNotedMs = 60_000;

type KeyRefusal = 'unknown' | 'expired' | 'revoked';
export type KeyFound =
  | { readonly caller: Caller; readonly refusal?: never }
  | { readonly refusal: KeyRefusal; readonly keyId: string | null; readonly caller?: never };

export interface Keyring {
  find(text: string): Promise<KeyFound>;
  /** Whether somebody holds a live key with which everything can be done. */
  hasAdminKey(): Promise<boolean>;
  /** Forgets what is remembered; call it after a change of keys. */
  forget(): void;
}

/** Makes a keyring over the store. `now` is the wall clock. */
export function createKeyring(store: Store, now: () => number = Date.now): Keyring {
  const kept = new Map<string, { atMs: number; key: Promise<ApiKey | null> }>();
  const noted = new Map<string, number>();
  let admin: { atMs: number; has: Promise<boolean> } | null = null;

  const load = (keyId: string): Promise<ApiKey | null> => {
    const known = kept.get(keyId);
    if (known !== undefined && now() - known.atMs < rememberedMs) return known.key;
    const entry = { atMs: now(), key: store.getKey(keyId) };
    kept.delete(keyId);
    if (kept.size >= mostRemembered) kept.delete(kept.keys().next().value as string);
    kept.set(keyId, entry);
    entry.key.catch(() => kept.delete(keyId));
    return entry.key;
  };
  const noteUse = (keyId: string) => {
    if (now() - (noted.get(keyId) ?? 0) < usesNotedMs) return;
    if (noted.size >= mostRemembered) noted.clear();
    noted.set(keyId, now());
    // A request does not fail because its mark could not be made.
    store.noteKeyUse(keyId).catch(() => noted.delete(keyId));
  };
  return {
    async find(text) {
      const keyId = keyIdOf(text);
      const key = keyId === null ? null : await load(keyId);
      const refusal = refusalOf(key, text, now());
      if (refusal !== null || key === null) return { refusal: refusal ?? 'unknown', keyId };
      noteUse(key.keyId);
      return { caller: { keyId: key.keyId, name: key.name, role: key.role as Role, fleets: key.fleets } };
    },
    hasAdminKey() {
      if (admin === null || now() - admin.atMs >= rememberedMs) {
        const has = store.listKeys().then((keys) => keys.some((key) => isLiveAdminKey(key, now())));
        admin = { atMs: now(), has };
        has.catch(() => {
          admin = null;
        });
      }
      return admin.has;
    },
    forget() {
      kept.clear();
      admin = null;
    },
  };
}

/** Whether a key can do everything, now. */
export function isLiveAdminKey(key: ApiKey, nowMs: number): boolean {
  return key.role === 'admin' && key.fleets === 'all' && key.revokedMs === null && !isPast(key.expiresMs, nowMs);
}

/** What stands in for a key that there is not, so that it takes as long. */
const nobody = [{ hash: new Uint8Array(32), hint: '', madeMs: 0, untilMs: 0 }];

/** Only who holds a secret of the key is told that it has expired or was revoked. */
function refusalOf(key: ApiKey | null, text: string, nowMs: number): KeyRefusal | null {
  const hash = hashOf(text);
  let held: 'none' | 'ended' | 'live' = 'none';
  // All are compared, each in constant time.
  for (const secret of key?.secrets ?? nobody) {
    if (!timingSafeEqual(secret.hash, hash)) continue;
    held = isPast(secret.untilMs, nowMs) ? 'ended' : 'live';
  }
  if (key === null || held === 'none' || !roles.includes(key.role as Role)) return 'unknown';
  if (key.revokedMs !== null) return 'revoked';
  return held === 'ended' || isPast(key.expiresMs, nowMs) ? 'expired' : null;
}

function isPast(endMs: number | null, nowMs: number): boolean {
  return endMs !== null && endMs <= nowMs;
}

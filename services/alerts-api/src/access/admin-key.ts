/** Keys with which everything can be done: whether there is one, and making one when the service starts. */

import { OperatingError } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';
import { makeKey } from './key-text.js';
import { isLiveAdminKey } from './keyring.js';

export interface DoorOptions {
  readonly store: Store;
  /** Whether only this computer itself can connect. */
  readonly isLocal: boolean;
  /** Whether tokens of an identity provider are taken. */
  readonly hasTokens: boolean;
  /** Whether somebody asked for a new admin's key. */
  readonly isKeyWanted: boolean;
}

/**
 * Sees to it that somebody can get in, and that nobody gets in without a key from elsewhere.
 *
 * Returns the text of a new admin's key where one was made: when it was asked for, and at the first start that others can
 * connect to. It is shown now or never.
 * Errors: OperatingError `no-keys` when there were keys and none of them is good any more.
 */
export async function prepareDoor({ store, isLocal, hasTokens, isKeyWanted }: DoorOptions): Promise<string | null> {
  if (isKeyWanted) return makeAdminKey(store);
  if (isLocal || hasTokens) return null;
  const keys = await store.listKeys();
  if (keys.length === 0) return makeAdminKey(store);
  if (keys.some((key) => isLiveAdminKey(key, Date.now()))) return null;
  throw new OperatingError('Others could connect, and nobody holds a key with which everything can be done.', {
    code: 'no-keys',
    remedy:
      'Start once with WARMBRICK_PRINT_ADMIN_KEY=true to have one printed, or listen on 127.0.0.1 only (WARMBRICK_HOST).',
  });
}

async function makeAdminKey(store: Store): Promise<string> {
  const { keyId, text, secret } = makeKey();
  const key = {
    keyId,
    name: 'printed at start',
    role: 'admin',
    fleets: 'all',
    createdBy: 'start',
    expiresMs: null,
  } as const;
  await store.addKey(key, secret);
  await store.appendAudit({
    actorId: 'start',
    actorName: 'start of the service',
    action: 'admin key printed',
    target: keyId,
    fleetId: null,
    detail: '{}',
  });
  return text;
}

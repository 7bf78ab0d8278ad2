/** Everything about who may get in, put together. */

import type { Store } from '@warmbrick/store';
import type { FastifyBaseLogger, FastifyRequest } from 'fastify';
import { createTokenReader, type TokenOptions } from './bearer-tokens.js';
import type { Caller } from './caller.js';
import { createFailureLimit } from './failure-limit.js';
import { type Identifying, identify } from './identify.js';
import { createKeyring, type Keyring } from './keyring.js';

export interface AccessOptions {
  /** Whether this computer itself needs no key as long as nobody holds an admin's key for all fleets. Default true. */
  readonly isLocalOpen?: boolean | undefined;
  /** Wrong keys that an address may try in a minute before it is told to wait. */
  readonly wrongKeysPerMinute?: number | undefined;
  /** Identity provider whose tokens are taken; default none. */
  readonly tokens?: TokenOptions | undefined;
}

export interface Access {
  readonly keyring: Keyring;
  /** Whether the last admin key may go without locking everybody out. */
  readonly hasOtherWayIn: boolean;
  identify(request: FastifyRequest): Promise<Caller | null>;
}

/** Wrong keys of an address in a minute. Source: engineering judgement: a misconfigured client, not a search. */
const usualWrongKeys = 60;
/** A refusal of one key is written down once in this time, in ms. */
const refusalGrainMs = 60_000;
/** Keys whose refusals are remembered. */
const mostRefused = 1000;

/** Puts keys, tokens and the audit of refusals together. */
export function createAccess(store: Store, logger: FastifyBaseLogger, options: AccessOptions = {}): Access {
  const { isLocalOpen = true, tokens } = options;
  const keyring = createKeyring(store);
  const refusedAt = new Map<string, number>();
  const onRefused: Identifying['onRefused'] = ({ keyId, refusal }, request) => {
    const id = keyId ?? '';
    if (Date.now() - (refusedAt.get(id) ?? 0) < refusalGrainMs) return;
    if (refusedAt.size >= mostRefused) refusedAt.clear();
    refusedAt.set(id, Date.now());
    logger.warn({ keyId, refusal, address: request.ip }, 'a key was refused');
    const detail = JSON.stringify({ refusal, address: request.ip });
    const entry = { actorId: id, actorName: '', action: 'key refused', target: id, fleetId: null, detail };
    store.appendAudit(entry).catch((error) => logger.error({ err: error }, 'the audit log could not be written'));
  };
  const identifying: Identifying = {
    keyring,
    tokens: tokens === undefined ? null : createTokenReader(tokens),
    failures: createFailureLimit(options.wrongKeysPerMinute ?? usualWrongKeys),
    isLocalOpen,
    onRefused,
  };
  return {
    keyring,
    hasOtherWayIn: isLocalOpen || tokens !== undefined,
    identify: (request) => identify(identifying, request),
  };
}

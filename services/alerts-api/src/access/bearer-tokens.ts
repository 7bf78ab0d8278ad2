/** Tokens of an identity provider. Source: OpenID Connect Core 1.0, RFC 7519, RFC 8725 (best practice for tokens). */

import { type Role, roles } from '@warmbrick/contracts';
import { OperatingError } from '@warmbrick/runtime';
import { createRemoteJWKSet, errors, type JWTPayload, jwtVerify } from 'jose';
import type { Caller } from './caller.js';

export interface TokenOptions {
  /** As it stands in the tokens. */
  readonly issuer: string;
  readonly audience: string;
  /** Where its public keys are. Default: as its OpenID configuration says. */
  readonly keysUrl?: string | undefined;
  /** Claim with the role, a text or a list of which the highest counts; dots lead into objects. Default `roles`. */
  readonly roleClaim?: string | undefined;
  /** Claim with the fleets; `*` means all. Default `fleets`. */
  readonly fleetsClaim?: string | undefined;
}

/** Only signatures with a key pair: nothing that whoever knows a public key could make. Source: RFC 8725, 3.1 and 3.2. */
const algorithms = ['RS256', 'RS384', 'RS512', 'PS256', 'PS384', 'PS512', 'ES256', 'ES384', 'EdDSA', 'Ed25519'];
/** How far clocks may be apart, in s. Source: common practice. */
const clockToleranceS = 30;
/** A token longer than this is not looked at, in characters. */
const longestToken = 8192;
/** How long public keys are used before they are asked for again; and how long after a failure nobody asks. */
const keysKeptMs = 600_000;
const cooldownMs = 30_000;
const timeoutMs = 5000;
/** Fleets of one token at most. */
const mostFleets = 100;

export interface TokenReader {
  /** The caller that a token speaks of; null for one that is not valid. Errors: OperatingError `identity-provider-unreachable`. */
  read(token: string): Promise<Caller | null>;
}

/** Reads tokens of one issuer. Asks it for its keys when the first token comes. */
export function createTokenReader(options: TokenOptions): TokenReader {
  let keys: ReturnType<typeof createRemoteJWKSet> | null = null;
  const loadKeys = async () => {
    const url = options.keysUrl ?? (await discoverKeys(options.issuer));
    keys ??= createRemoteJWKSet(new URL(url), {
      cacheMaxAge: keysKeptMs,
      cooldownDuration: cooldownMs,
      timeoutDuration: timeoutMs,
    });
    return keys;
  };
  return {
    async read(token) {
      if (token.length > longestToken) return null;
      try {
        const { payload } = await jwtVerify(token, keys ?? (await loadKeys()), {
          issuer: options.issuer,
          audience: options.audience,
          algorithms,
          clockTolerance: clockToleranceS,
          requiredClaims: ['sub', 'exp', 'iat'],
        });
        return callerOf(payload, options);
      } catch (error) {
        if (isTokensFault(error)) return null;
        throw unreachable(error);
      }
    },
  };
}

/** Whether the token is to blame and not the way to the provider. */
function isTokensFault(error: unknown): boolean {
  return (
    error instanceof errors.JOSEError && !(error instanceof errors.JWKSTimeout) && error.code !== 'ERR_JOSE_GENERIC'
  );
}

async function discoverKeys(issuer: string): Promise<string> {
  const url = `${issuer.replace(/\/$/, '')}/.well-known/openid-configuration`;
  const answer = await fetch(url, { signal: AbortSignal.timeout(timeoutMs), redirect: 'error' });
  const document = (await answer.json()) as { issuer?: unknown; jwks_uri?: unknown };
  // Source: OpenID Connect Discovery 1.0, 4.3.
  if (document.issuer !== issuer || typeof document.jwks_uri !== 'string') {
    throw new Error(`the configuration at ${url} is not that of ${issuer}`);
  }
  return document.jwks_uri;
}

function callerOf(payload: JWTPayload, { roleClaim = 'roles', fleetsClaim = 'fleets' }: TokenOptions): Caller | null {
  const named = textsOf(claimAt(payload, roleClaim));
  const role = [...roles].reverse().find((it) => named.includes(it));
  if (role === undefined || typeof payload.sub !== 'string') return null;
  const fleets = textsOf(claimAt(payload, fleetsClaim)).slice(0, mostFleets);
  const name = typeof payload.name === 'string' ? payload.name.slice(0, 80) : payload.sub;
  return { keyId: `token:${payload.sub}`.slice(0, 120), name, role: role as Role, fleets: scopeOf(fleets) };
}

/** A token that names no fleet sees none. */
function scopeOf(fleets: readonly string[]): Caller['fleets'] {
  return fleets.includes('*') ? 'all' : fleets.filter((fleet) => /^[a-z0-9][a-z0-9-]{0,39}$/.test(fleet));
}

function claimAt(payload: JWTPayload, path: string): unknown {
  if (Object.hasOwn(payload, path)) return payload[path];
  return path
    .split('.')
    .reduce<unknown>((at, name) => (isObject(at) && Object.hasOwn(at, name) ? at[name] : null), payload);
}

function textsOf(value: unknown): string[] {
  const list = Array.isArray(value) ? value : typeof value === 'string' ? value.split(/[\s,]+/) : [];
  return list.filter((it): it is string => typeof it === 'string');
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null;
}

function unreachable(cause: unknown): OperatingError {
  return new OperatingError('The identity provider does not tell its keys.', {
    code: 'identity-provider-unreachable',
    isRetriable: true,
    remedy: 'Try again; check its address if it lasts.',
    cause,
  });
}

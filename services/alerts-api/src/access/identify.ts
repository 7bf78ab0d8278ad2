/** Tells who sent a request: by key or token in the header, by the console's cookie, or as this computer itself. */

import type { FastifyRequest } from 'fastify';
import { ProblemError } from '../http/problem.js';
import type { TokenReader } from './bearer-tokens.js';
import { type Caller, localAdmin, sessionCookieName } from './caller.js';
import type { FailureLimit } from './failure-limit.js';
import { keyIdOf } from './key-text.js';
import type { KeyFound, Keyring } from './keyring.js';
import { siteOf } from './same-site.js';

export interface Identifying {
  readonly keyring: Keyring;
  readonly tokens: TokenReader | null;
  readonly failures: FailureLimit;
  /** Whether this computer itself needs no key as long as nobody holds one for everything. */
  readonly isLocalOpen: boolean;
  /** Told of a key that is known and was refused. */
  readonly onRefused: (found: Extract<KeyFound, { refusal: string }>, request: FastifyRequest) => void;
}

/**
 * The caller of a request; null when it says nothing of itself.
 *
 * Errors: the problems `key-invalid`, `key-expired`, `key-revoked`, `cross-site`, `too-many-requests`.
 */
export async function identify(identifying: Identifying, request: FastifyRequest): Promise<Caller | null> {
  const bearer = bearerOf(request);
  const text = bearer ?? cookieOf(request);
  if (text === null) return localCaller(identifying, request);
  if (bearer === null && isWrite(request) && siteOf(request) !== 'own') throw crossSite();
  const { failures } = identifying;
  try {
    return keyIdOf(text) === null ? await byToken(identifying, text) : await byKey(identifying, text, request);
  } catch (error) {
    if (!(error instanceof ProblemError)) throw error;
    failures.note(request.ip);
    // Only wrong keys are turned away: whoever tries some must not lock out others behind the same address.
    throw failures.isOver(request.ip)
      ? new ProblemError('too-many-requests', 'Too many wrong keys. Wait a minute.')
      : error;
  }
}

async function byKey(identifying: Identifying, text: string, request: FastifyRequest): Promise<Caller> {
  const found = await identifying.keyring.find(text);
  if (found.caller !== undefined) return found.caller;
  if (found.refusal !== 'unknown') identifying.onRefused(found, request);
  if (found.refusal === 'expired') throw new ProblemError('key-expired', 'The key has expired. Ask for a new one.');
  if (found.refusal === 'revoked') throw new ProblemError('key-revoked', 'The key was revoked. Ask for a new one.');
  throw invalid();
}

async function byToken({ tokens }: Identifying, text: string): Promise<Caller> {
  const caller = (await tokens?.read(text)) ?? null;
  if (caller === null) throw invalid();
  return caller;
}

/** Who sits at this computer. A proxy in front makes everybody look as if they did, and says so. */
async function localCaller({ isLocalOpen, keyring }: Identifying, request: FastifyRequest): Promise<Caller | null> {
  if (!isLocalOpen || !isLoopback(request.ip) || isForwarded(request)) return null;
  if (await keyring.hasAdminKey()) return null;
  if (isWrite(request) && siteOf(request) === 'foreign') throw crossSite();
  return localAdmin;
}

function bearerOf({ headers }: FastifyRequest): string | null {
  return /^Bearer ([\x21-\x7e]+) *$/i.exec(headers.authorization ?? '')?.[1] ?? null;
}

function cookieOf({ headers }: FastifyRequest): string | null {
  for (const piece of (headers.cookie ?? '').split(';')) {
    const [name, value] = piece.trim().split('=', 2);
    if (name === sessionCookieName && value !== undefined && value !== '') return value;
  }
  return null;
}

function isWrite({ method }: FastifyRequest): boolean {
  return method !== 'GET' && method !== 'HEAD';
}

/** Source: RFC 1122, 3.2.1.3; RFC 4291, 2.5.3 and 2.5.5.2. */
function isLoopback(address: string): boolean {
  return address === '::1' || /^(::ffff:)?127\./.test(address);
}

function isForwarded({ headers }: FastifyRequest): boolean {
  return headers.forwarded !== undefined || headers['x-forwarded-for'] !== undefined;
}

function invalid(): ProblemError {
  return new ProblemError('key-invalid', 'This is no key or token that is known here. Check that it is whole.');
}

function crossSite(): ProblemError {
  return new ProblemError('cross-site', 'Another site sent this. Do it on our own pages, or send a key in the header.');
}

/** Fleets, API keys, the audit log, and answers that are given again when a request is repeated. */

import type { Page } from './store.js';

export type FleetScope = 'all' | readonly string[];

export interface Fleet {
  readonly fleetId: string;
  readonly name: string;
  readonly createdMs: number;
  readonly machines: number;
}

/** One of the secrets that a key has; only its hash is kept. */
export interface KeySecret {
  /** SHA-256 of the whole key as it was handed out. */
  readonly hash: Uint8Array;
  /** First characters of the secret, to tell keys apart. */
  readonly hint: string;
  readonly madeMs: number;
  /** End of the overlap with its successor; null for the newest. */
  readonly untilMs: number | null;
}

export interface NewApiKey {
  readonly keyId: string;
  readonly name: string;
  readonly role: string;
  readonly fleets: FleetScope;
  readonly createdBy: string;
  readonly expiresMs: number | null;
}

export interface ApiKey extends NewApiKey {
  readonly createdMs: number;
  readonly revokedMs: number | null;
  /** To the minute. */
  readonly lastUsedMs: number | null;
  /** Newest first; two at most. */
  readonly secrets: readonly KeySecret[];
}

export interface NewAuditEntry {
  readonly actorId: string;
  readonly actorName: string;
  /** Method and address of the route, or a word for what happened. */
  readonly action: string;
  readonly target: string;
  /** The fleet that it concerns; null where it is none or several. */
  readonly fleetId: string | null;
  /** JSON, without secrets. */
  readonly detail: string;
}

export interface AuditEntry extends NewAuditEntry {
  /** From 1, without gaps. */
  readonly number: number;
  readonly atMs: number;
  /** SHA-256 over the hash of the entry before and this entry. */
  readonly hash: Uint8Array;
}

export interface AuditPage {
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly actorId?: string | undefined;
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
}

/** What became of a request under an idempotency key. */
export type RepeatableAnswer =
  | { readonly state: 'new' }
  | { readonly state: 'under-way' }
  | { readonly state: 'other-request' }
  | { readonly state: 'answered'; readonly status: number; readonly body: string };

export interface AccessStore {
  /** Fleets in order of their ids. */
  listFleets(): Promise<Fleet[]>;
  /** Makes a fleet; false when there is one with this id. */
  addFleet(fleet: { readonly fleetId: string; readonly name: string }): Promise<boolean>;
  /** False when there is no such fleet. */
  renameFleet(fleetId: string, name: string): Promise<boolean>;
  /** Fleets of the machines that are known. */
  fleetsOf(machineIds: readonly string[]): Promise<Map<string, string>>;
  /** Moves a machine to a fleet, which is made if there is none; registers an unknown machine. */
  moveMachine(machineId: string, fleetId: string): Promise<void>;

  /** Keys, newest first, revoked and expired ones included; at most 1000. */
  listKeys(): Promise<ApiKey[]>;
  getKey(keyId: string): Promise<ApiKey | null>;
  addKey(key: NewApiKey, secret: { readonly hash: Uint8Array; readonly hint: string }): Promise<void>;
  /** Gives a live key a new secret; the one before stays valid for `overlapMs`, those before it end now. False when there is no live key. */
  rotateKey(
    keyId: string,
    secret: { readonly hash: Uint8Array; readonly hint: string },
    overlapMs: number,
  ): Promise<boolean>;
  /** False when there is no such key, or it was revoked already. */
  revokeKey(keyId: string): Promise<boolean>;
  noteKeyUse(keyId: string): Promise<void>;

  /** Appends to the audit log. Nothing changes or deletes an entry. */
  appendAudit(entry: NewAuditEntry): Promise<void>;
  /** Newest first. */
  listAudit(page: AuditPage): Promise<Page<AuditEntry>>;
  /** Number of the first entry that does not follow from the one before, null when the chain is whole; and its length. */
  checkAudit(): Promise<{ readonly entries: number; readonly brokenAt: number | null }>;

  /** Begins a request under an idempotency key, or tells what became of it. Kept for 24 hours, 1000 a caller. */
  beginRepeatable(request: {
    readonly caller: string;
    readonly key: string;
    /** Hash of what is asked. */
    readonly request: Uint8Array;
  }): Promise<RepeatableAnswer>;
  /** Keeps the answer; null forgets the request, so that it can be tried again. */
  endRepeatable(caller: string, key: string, answer: { status: number; body: string } | null): Promise<void>;
}

/** Fleets, keys and the audit log in memory, for the store in memory: everything belongs to the fleet `main`. */

import type { AccessStore, ApiKey, AuditEntry } from '@warmbrick/store';

export function createMemoryAccess(): AccessStore {
  const fleets = new Map([['main', 'Main fleet']]);
  const keys = new Map<string, ApiKey>();
  const audit: AuditEntry[] = [];
  const answers = new Map<string, { request: string; answer: { status: number; body: string } | null }>();
  return {
    listFleets: async () => [...fleets].map(([fleetId, name]) => ({ fleetId, name, createdMs: 0, machines: 0 })),
    addFleet: async ({ fleetId, name }) => !fleets.has(fleetId) && fleets.set(fleetId, name).has(fleetId),
    renameFleet: async (fleetId, name) => fleets.has(fleetId) && fleets.set(fleetId, name).has(fleetId),
    fleetsOf: async (machineIds) => new Map(machineIds.map((machineId) => [machineId, 'main'])),
    moveMachine: async () => {},
    listKeys: async () => [...keys.values()].reverse(),
    getKey: async (keyId) => keys.get(keyId) ?? null,
    addKey: async (key, secret) => {
      const secrets = [{ ...secret, madeMs: Date.now(), untilMs: null }];
      keys.set(key.keyId, { ...key, createdMs: Date.now(), revokedMs: null, lastUsedMs: null, secrets });
    },
    rotateKey: async (keyId, secret, overlapMs) => {
      const key = keys.get(keyId);
      if (key === undefined || key.revokedMs !== null) return false;
      const before = key.secrets.slice(0, 1).map((it) => ({ ...it, untilMs: Date.now() + overlapMs }));
      keys.set(keyId, { ...key, secrets: [{ ...secret, madeMs: Date.now(), untilMs: null }, ...before] });
      return true;
    },
    revokeKey: async (keyId) => {
      const key = keys.get(keyId);
      if (key === undefined || key.revokedMs !== null) return false;
      keys.set(keyId, { ...key, revokedMs: Date.now() });
      return true;
    },
    noteKeyUse: async () => {},
    appendAudit: async (entry) => {
      audit.unshift({ ...entry, number: audit.length + 1, atMs: Date.now(), hash: new Uint8Array(32) });
    },
    listAudit: async ({ limit }) => ({ items: audit.slice(0, limit), nextCursor: null }),
    checkAudit: async () => ({ entries: audit.length, brokenAt: null }),
    beginRepeatable: async ({ caller, key, request }) => {
      const id = `${caller} ${key}`;
      const asked = Buffer.from(request).toString('hex');
      const known = answers.get(id);
      if (known === undefined) {
        answers.set(id, { request: asked, answer: null });
        return { state: 'new' };
      }
      if (known.request !== asked) return { state: 'other-request' };
      return known.answer === null ? { state: 'under-way' } : { state: 'answered', ...known.answer };
    },
    endRepeatable: async (caller, key, answer) => {
      const id = `${caller} ${key}`;
      if (answer === null) answers.delete(id);
      else answers.set(id, { request: answers.get(id)?.request ?? '', answer });
    },
  };
}

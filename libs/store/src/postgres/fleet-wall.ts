/**
 * Row-level security: the second wall between fleets, which holds even if a query of ours forgets to ask for the fleet.
 *
 * Every table with a column `machine_id` or `fleet_id` gets it, whoever made the table. A query that stays within fleets runs
 * as the role `warmbrick_api` with the fleets in the setting `warmbrick.fleets`, both for its transaction only. Where the
 * user of the database may not make roles, the walls are forced upon that user instead.
 *
 * Source: PostgreSQL documentation, 5.9 Row Security Policies.
 */

import type { Row, Session } from './database.js';

/** Role that reads and writes for callers who see some fleets only. It owns nothing and cannot log in. */
const apiRole = 'warmbrick_api';
/** Name of the policies; a change of what they say is a new name. */
const policyName = 'fleet_wall_1';
/** Key of the lock under which walls are raised. */
const lockKey = 7_269_141_554;

/** What the role may do with a table that has a wall, unless it stands here. */
const usualRights = 'SELECT, INSERT, UPDATE, DELETE';
const otherRights: Readonly<Record<string, string>> = { audit_entry: 'SELECT, INSERT', fleet: 'SELECT' };

/** Tables without either column whose rows belong to a row of another table that has a wall. */
const followers: Readonly<Record<string, { readonly table: string; readonly key: string; readonly column: string }>> = {
  outbox: { table: 'machine', key: 'machine_id', column: 'key' },
  delivery_attempt: { table: 'delivery', key: 'id', column: 'delivery_id' },
  api_key_secret: { table: 'api_key', key: 'key_id', column: 'key_id' },
};

const sightFunctions = `
CREATE OR REPLACE FUNCTION sees_all_fleets() RETURNS boolean LANGUAGE sql STABLE AS $sees$
  SELECT CASE coalesce(current_setting('warmbrick.fleets', true), '')
    WHEN '' THEN current_user <> '${apiRole}' WHEN '*' THEN true ELSE false END
$sees$;
CREATE OR REPLACE FUNCTION seen_fleets() RETURNS text[] LANGUAGE sql STABLE AS $seen$
  SELECT CASE WHEN coalesce(current_setting('warmbrick.fleets', true), '') IN ('', '*') THEN '{}'::text[]
    ELSE current_setting('warmbrick.fleets')::text[] END
$seen$;
`;

export interface Walls {
  /** The role to take on; null where the walls are forced upon our own user. */
  readonly role: string | null;
}

/** Raises the walls that are missing; does nothing to a database where all stand. Runs within a transaction. */
export async function raiseWalls(session: Session): Promise<Walls> {
  await session.query({ text: 'SELECT pg_advisory_xact_lock($1)', values: [lockKey] });
  const role = (await findRole(session)) ?? (await makeRole(session));
  const tables = await tablesToWall(session, role);
  const missing = tables.filter((table) => !table.stands);
  if (missing.length === 0) return { role };
  await session.query({ text: sightFunctions });
  for (const table of missing) await session.query({ text: fleetWall(table, role) });
  return { role };
}

interface WalledTable {
  readonly name: string;
  /** Columns that tell the fleet, as far as the table has them: machine_id, fleet_id, fleets. */
  readonly columns: readonly string[];
}

/** The statements that put the wall around a table. */
function fleetWall({ name, columns }: WalledTable, role: string | null): string {
  const rights = role === null ? '' : `GRANT ${otherRights[name] ?? usualRights} ON ${name} TO ${role};`;
  return `ALTER TABLE ${name} ENABLE ROW LEVEL SECURITY;
    ALTER TABLE ${name} ${role === null ? 'FORCE' : 'NO FORCE'} ROW LEVEL SECURITY;
    DROP POLICY IF EXISTS ${policyName} ON ${name};
    CREATE POLICY ${policyName} ON ${name} USING ((SELECT sees_all_fleets()) OR ${belongs(name, columns)});
    ${rights}`;
}

/** Whether a row belongs to one of the fleets that are seen. A machine tells the fleet even if it moved since. */
function belongs(name: string, columns: readonly string[]): string {
  const follower = followers[name];
  if (follower !== undefined) {
    const { table, key, column } = follower;
    return `EXISTS (SELECT 1 FROM ${table} up WHERE up.${key} = ${name}.${column})`;
  }
  if (columns.includes('fleets')) return 'fleets <@ (SELECT seen_fleets())';
  const byFleet = 'fleet_id = ANY ((SELECT seen_fleets())::text[])';
  if (name === 'machine' || !columns.includes('machine_id')) return byFleet;
  const byMachine = `EXISTS (SELECT 1 FROM machine m
    WHERE m.machine_id = ${name}.machine_id AND m.fleet_id = ANY ((SELECT seen_fleets())::text[]))`;
  return columns.includes('fleet_id') ? `(${byMachine} OR machine_id IS NULL AND ${byFleet})` : byMachine;
}

/** Every table whose rows belong to fleets, and whether its wall stands. A month of samples is behind the wall of its parent. */
async function tablesToWall(session: Session, role: string | null): Promise<(WalledTable & { stands: boolean })[]> {
  const { rows } = await session.query({
    text: `SELECT c.relname AS name, array_agg(a.attname::text) AS columns,
        c.relrowsecurity AND (c.relforcerowsecurity OR $2::text IS NOT NULL)
          AND EXISTS (SELECT 1 FROM pg_policy p WHERE p.polrelid = c.oid AND p.polname = $1)
          AND ($2::text IS NULL OR has_table_privilege($2::text, c.oid, 'SELECT')) AS stands
      FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      LEFT JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname IN ('machine_id', 'fleet_id', 'fleets') AND NOT a.attisdropped
      WHERE n.nspname = current_schema() AND c.relkind IN ('r', 'p') AND NOT c.relispartition
        AND (a.attname IS NOT NULL OR c.relname = ANY($3::text[]))
      GROUP BY c.oid, c.relname, c.relrowsecurity, c.relforcerowsecurity ORDER BY c.relname`,
    values: [policyName, role, Object.keys(followers)],
  });
  return rows.map((row: Row) => ({ name: row.name, columns: row.columns, stands: row.stands }));
}

/** The role's name if there is one that our user may take on. */
async function findRole(session: Session): Promise<string | null> {
  const { rows } = await session.query({
    text: `SELECT pg_has_role(current_user, oid, 'MEMBER') AS mine FROM pg_roles WHERE rolname = $1`,
    values: [apiRole],
  });
  return rows[0]?.mine === true ? apiRole : null;
}

/** Makes the role where our user may; another process may be quicker, and roles belong to the whole server. */
async function makeRole(session: Session): Promise<string | null> {
  await session.query({
    text: `DO $make$ BEGIN
      CREATE ROLE ${apiRole} NOLOGIN NOINHERIT;
    EXCEPTION WHEN duplicate_object OR unique_violation OR insufficient_privilege THEN NULL;
    END $make$;
    DO $grant$ BEGIN
      EXECUTE format('GRANT ${apiRole} TO %I', current_user);
    EXCEPTION WHEN insufficient_privilege OR undefined_object OR invalid_grant_operation THEN NULL;
    END $grant$;`,
  });
  return findRole(session);
}

/** Step 7 of the database: fleets, API keys, answers to repeat, and a log of what was done that nobody can rewrite. */

/** The step's SQL; published, so it never changes. */
export const accessTables = `
CREATE TABLE fleet (
  fleet_id text COLLATE "C" PRIMARY KEY,
  name text NOT NULL,
  created int8 NOT NULL,
  revision int4 NOT NULL DEFAULT 1
);
INSERT INTO fleet (fleet_id, name, created) VALUES ('main', 'Main fleet', 0);
INSERT INTO fleet (fleet_id, name, created) SELECT DISTINCT fleet_id, fleet_id, 0 FROM machine ON CONFLICT DO NOTHING;
ALTER TABLE machine ADD CONSTRAINT machine_of_fleet FOREIGN KEY (fleet_id) REFERENCES fleet;
CREATE INDEX machine_of_fleet_by_risk ON machine (fleet_id, score_order DESC, machine_id) WHERE last_sample IS NOT NULL;
CREATE INDEX finding_of_all_by_start ON finding (started DESC, id) WHERE withdrawn_at IS NULL;

CREATE TABLE api_key (
  key_id text COLLATE "C" PRIMARY KEY,
  name text NOT NULL,
  role text COLLATE "C" NOT NULL,
  -- Null means all fleets.
  fleets text[] COLLATE "C",
  created int8 NOT NULL,
  created_by text NOT NULL,
  expires int8,
  revoked int8,
  last_used int8
);
-- Only what a secret hashes to is kept. Two are live while whoever uses the key changes over.
CREATE TABLE api_key_secret (
  key_id text COLLATE "C" NOT NULL REFERENCES api_key,
  hash bytea NOT NULL,
  hint text NOT NULL,
  made int8 NOT NULL,
  until int8,
  PRIMARY KEY (key_id, hash)
);

CREATE TABLE repeatable_answer (
  caller text COLLATE "C" NOT NULL,
  key text COLLATE "C" NOT NULL,
  request bytea NOT NULL,
  at int8 NOT NULL,
  status int4,
  body text,
  PRIMARY KEY (caller, key)
);
CREATE INDEX repeatable_answer_by_time ON repeatable_answer (at);

CREATE TABLE audit_entry (
  number int8 PRIMARY KEY,
  at int8 NOT NULL,
  actor_id text NOT NULL,
  actor_name text NOT NULL,
  action text NOT NULL,
  target text NOT NULL,
  fleet_id text COLLATE "C",
  detail text NOT NULL,
  previous bytea NOT NULL,
  hash bytea NOT NULL
);
-- Numbers rise without gaps, and each entry's hash covers the one before: what is taken out or changed breaks the chain.
CREATE FUNCTION chain_audit_entry() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS $chain$
DECLARE
  last audit_entry;
  fleets text := coalesce(current_setting('warmbrick.fleets', true), '');
BEGIN
  PERFORM pg_advisory_xact_lock(7269141555);
  -- The chain is one for all fleets, whoever appends.
  PERFORM set_config('warmbrick.fleets', '*', true);
  SELECT * INTO last FROM audit_entry ORDER BY number DESC LIMIT 1;
  PERFORM set_config('warmbrick.fleets', fleets, true);
  NEW.number := coalesce(last.number, 0) + 1;
  NEW.at := (extract(epoch FROM clock_timestamp()) * 1000)::int8;
  NEW.previous := coalesce(last.hash, '\\x'::bytea);
  NEW.hash := sha256(NEW.previous || convert_to(jsonb_build_array(NEW.number, NEW.at, NEW.actor_id, NEW.actor_name,
    NEW.action, NEW.target, NEW.fleet_id, NEW.detail)::text, 'UTF8'));
  RETURN NEW;
END
$chain$;
CREATE TRIGGER chain_audit_entry BEFORE INSERT ON audit_entry FOR EACH ROW EXECUTE FUNCTION chain_audit_entry();
CREATE FUNCTION refuse_rewriting() RETURNS trigger LANGUAGE plpgsql AS $refuse$
BEGIN
  RAISE EXCEPTION 'entries of the audit log are never changed or deleted' USING ERRCODE = '42501';
END
$refuse$;
CREATE TRIGGER refuse_change BEFORE UPDATE OR DELETE ON audit_entry FOR EACH ROW EXECUTE FUNCTION refuse_rewriting();
CREATE TRIGGER refuse_emptying BEFORE TRUNCATE ON audit_entry FOR EACH STATEMENT EXECUTE FUNCTION refuse_rewriting();
REVOKE UPDATE, DELETE, TRUNCATE ON audit_entry FROM PUBLIC;
DO $own$ BEGIN EXECUTE format('REVOKE UPDATE, DELETE, TRUNCATE ON audit_entry FROM %I', current_user); END $own$;
`;

/** Step 2 of the database: fault reports, rejected messages and the outbox. */

/** The step's SQL; published, so it never changes. */
export const messageTables = `
-- Two different reports of one controller at one time are both kept; the digest tells them apart in any order of arrival.
CREATE TABLE fault_report (
  machine_id text COLLATE "C" NOT NULL,
  at int8 NOT NULL,
  source_address int2 NOT NULL,
  kind text COLLATE "C" NOT NULL,
  digest text COLLATE "C" NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (machine_id, at, source_address, kind, digest)
);

CREATE TABLE reject (
  source text COLLATE "C" NOT NULL,
  "partition" int4 NOT NULL,
  "offset" int8 NOT NULL,
  at int8 NOT NULL,
  reason text COLLATE "C" NOT NULL,
  detail text NOT NULL,
  key text,
  payload bytea NOT NULL,
  payload_bytes int8 NOT NULL,
  PRIMARY KEY (source, "partition", "offset")
);
CREATE INDEX reject_by_time ON reject (at DESC, source, "partition", "offset");

-- A finding's revision is written once. Ids of one key rise in the order of commits, as the machine's row is locked.
CREATE TABLE outbox (
  id int8 GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  topic text COLLATE "C" NOT NULL,
  key text COLLATE "C" NOT NULL,
  finding_id text COLLATE "C" NOT NULL,
  revision int4 NOT NULL,
  payload json NOT NULL,
  at int8 NOT NULL,
  -- Nobody takes it before this time: the end of a lease, or the time of the next try.
  available int8 NOT NULL DEFAULT 0,
  owner text,
  attempts int4 NOT NULL DEFAULT 0,
  sent int8,
  UNIQUE (finding_id, revision)
);
CREATE INDEX outbox_unsent ON outbox (id) WHERE sent IS NULL;
CREATE INDEX outbox_unsent_by_key ON outbox (key, id) WHERE sent IS NULL;
CREATE INDEX outbox_sent ON outbox (sent) WHERE sent IS NOT NULL;
`;

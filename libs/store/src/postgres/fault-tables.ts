/** Step 5 of the database: fault episodes, derates and the inquiries into their origin. */

/** The step's SQL; published, so it never changes. */
export const faultTables = `
-- Kept for good: what a dealer asks for is every code that ever occurred.
CREATE TABLE fault_episode (
  machine_id text COLLATE "C" NOT NULL,
  id text COLLATE "C" NOT NULL,
  started int8 NOT NULL,
  ended int8,
  last_seen int8 NOT NULL,
  -- The code of a controller, and the controller or -1, to gather a code's episodes by.
  code text COLLATE "C" NOT NULL,
  source_address int2 NOT NULL,
  spn int4 NOT NULL,
  fmi int2 NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (machine_id, id)
);
CREATE INDEX fault_episode_by_start ON fault_episode (machine_id, started, id);
CREATE INDEX fault_episode_by_code ON fault_episode (machine_id, code, started);

-- Where the folding of reports into episodes stands, and where it stood at the end of each day, to fold late ones from.
CREATE TABLE fault_log_state (
  machine_id text COLLATE "C" PRIMARY KEY,
  body json NOT NULL
) WITH (fillfactor = 50);
CREATE TABLE fault_log_snapshot (
  machine_id text COLLATE "C" NOT NULL,
  at int8 NOT NULL,
  is_month_end boolean NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (machine_id, at)
);

-- What people typed in; taken back, it stays and counts no more.
CREATE TABLE fault_entry (
  machine_id text COLLATE "C" NOT NULL,
  id text COLLATE "C" NOT NULL,
  at int8 NOT NULL,
  body json NOT NULL,
  note text,
  typed_by text NOT NULL,
  typed_at int8 NOT NULL,
  PRIMARY KEY (machine_id, id)
);
CREATE INDEX fault_entry_by_time ON fault_entry (machine_id, at);

CREATE TABLE fault_text (
  fleet_id text COLLATE "C" NOT NULL,
  spn int4 NOT NULL,
  -- -1 stands for every failure mode.
  fmi int2 NOT NULL,
  body json NOT NULL,
  changed_by text NOT NULL,
  changed_at int8 NOT NULL,
  PRIMARY KEY (fleet_id, spn, fmi)
);

CREATE TABLE derate (
  machine_id text COLLATE "C" NOT NULL,
  id text COLLATE "C" NOT NULL,
  started int8 NOT NULL,
  ended int8,
  body json NOT NULL,
  -- A re-run no longer makes it; its inquiries stay as history.
  withdrawn_at int8,
  PRIMARY KEY (machine_id, id)
);
CREATE INDEX derate_by_start ON derate (machine_id, started DESC, id) WHERE withdrawn_at IS NULL;

-- An answer that changes is a new revision; none is ever overwritten.
CREATE TABLE derate_inquiry (
  machine_id text COLLATE "C" NOT NULL,
  derate_id text COLLATE "C" NOT NULL,
  revision int4 NOT NULL,
  made_at int8 NOT NULL,
  digest text COLLATE "C" NOT NULL,
  body json NOT NULL,
  changes json NOT NULL,
  PRIMARY KEY (machine_id, derate_id, revision)
);

-- Machines whose derates have to be inquired into anew; written with what made it so, removed when it is done.
CREATE TABLE inquiry_due (
  machine_id text COLLATE "C" PRIMARY KEY,
  from_ms int8 NOT NULL,
  seq int8 NOT NULL,
  available int8 NOT NULL DEFAULT 0
) WITH (fillfactor = 50);
`;

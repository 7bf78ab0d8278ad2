/** Step 6 of the database: alerts, their events, rules, maintenance windows, and an outbox of more than findings. */

/** The step's SQL; published, so it never changes. */
export const alertTables = `
-- What a message is about: a finding by its id, an alert by its episode.
ALTER TABLE outbox RENAME COLUMN finding_id TO subject_id;
ALTER TABLE outbox DROP CONSTRAINT outbox_finding_id_revision_key;
ALTER TABLE outbox ADD CONSTRAINT outbox_subject UNIQUE (topic, subject_id, revision);
DROP INDEX outbox_unsent;
DROP INDEX outbox_unsent_by_key;
CREATE INDEX outbox_unsent ON outbox (topic, id) WHERE sent IS NULL;
CREATE INDEX outbox_unsent_by_key ON outbox (topic, key, id) WHERE sent IS NULL;

-- The fold's state of a machine. Whoever writes it holds the lock of the machine's row.
CREATE TABLE alert_state (
  machine_id text COLLATE "C" PRIMARY KEY,
  version int8 NOT NULL,
  -- Wall clock at which passing time may change something.
  next_due int8,
  body json NOT NULL
) WITH (fillfactor = 50);
CREATE INDEX alert_state_due ON alert_state (next_due) WHERE next_due IS NOT NULL;

CREATE TABLE alert (
  episode_id text COLLATE "C" PRIMARY KEY,
  machine_id text COLLATE "C" NOT NULL,
  rule_id text COLLATE "C" NOT NULL,
  site text COLLATE "C",
  condition text COLLATE "C" NOT NULL,
  severity text COLLATE "C" NOT NULL,
  is_open bool NOT NULL,
  is_acknowledged bool NOT NULL,
  is_past bool NOT NULL,
  started int8 NOT NULL,
  learned int8 NOT NULL,
  finding_id text COLLATE "C",
  revision int8 NOT NULL,
  body json NOT NULL
) WITH (fillfactor = 70);
CREATE INDEX alert_by_start ON alert (started DESC, episode_id);
CREATE INDEX alert_of_machine ON alert (machine_id, started DESC, episode_id);
CREATE INDEX alert_open ON alert (started DESC, episode_id) WHERE is_open;
CREATE INDEX alert_of_finding ON alert (finding_id) WHERE finding_id IS NOT NULL;

CREATE TABLE alert_event (
  episode_id text COLLATE "C" NOT NULL,
  sequence int4 NOT NULL,
  machine_id text COLLATE "C" NOT NULL,
  step text COLLATE "C" NOT NULL,
  actor text,
  learned int8 NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (episode_id, sequence)
);
CREATE INDEX alert_event_of_machine ON alert_event (machine_id, learned DESC);

CREATE TABLE alert_rule (
  fleet_id text COLLATE "C" NOT NULL DEFAULT 'main',
  rule_id text COLLATE "C" NOT NULL,
  revision int4 NOT NULL,
  changed int8 NOT NULL,
  changed_by text NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (fleet_id, rule_id)
);

CREATE TABLE maintenance_window (
  id text COLLATE "C" PRIMARY KEY,
  fleet_id text COLLATE "C" NOT NULL DEFAULT 'main',
  machine_id text COLLATE "C",
  site text COLLATE "C",
  started int8 NOT NULL,
  ended int8,
  body json NOT NULL
);
CREATE INDEX maintenance_window_by_end ON maintenance_window (ended);
`;

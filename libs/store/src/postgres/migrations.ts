/**
 * The database, step by step. A step that was published never changes; what is new is a new step at the end.
 * Times are epoch milliseconds (int8). JSON is kept as written (json, not jsonb), so that the order of its keys and its
 * numbers come back as they went in. Text is compared byte by byte, the same on every server.
 */

import { accessTables } from './access-tables.js';
import { activeFaultTables } from './active-fault-tables.js';
import { alertTables } from './alert-tables.js';
import { deliveryTables } from './delivery-tables.js';
import { faultTables } from './fault-tables.js';
import { messageTables } from './message-tables.js';
import { packedRows } from './packed-rows.js';
import { partitionedSamples } from './partitioned-samples.js';
import { reportKeyTable } from './report-key-table.js';
import { scoreTables } from './score-tables.js';
import { serviceTables } from './service-tables.js';
import { tuningTables } from './tuning-tables.js';

export interface Migration {
  readonly number: number;
  readonly title: string;
  readonly sql: string;
}

const firstTables = `
CREATE TABLE machine (
  machine_id text COLLATE "C" PRIMARY KEY,
  fleet_id text COLLATE "C" NOT NULL DEFAULT 'main',
  sort_name text COLLATE "C" NOT NULL,
  site text COLLATE "C",
  profile json NOT NULL,
  threshold_set text,
  summary json,
  last_sample int8,
  -- The score, or -1 where there is none: one column to sort and to page by.
  score_order float8 NOT NULL DEFAULT -1
) WITH (fillfactor = 50);
CREATE INDEX machine_by_risk ON machine (score_order DESC, machine_id) WHERE last_sample IS NOT NULL;
CREATE INDEX machine_by_name ON machine (sort_name, machine_id) WHERE last_sample IS NOT NULL;

-- Each chunk lies within one hour; chunks of a machine do not overlap.
CREATE TABLE sample_chunk (
  machine_id text COLLATE "C" NOT NULL,
  t0 int8 NOT NULL,
  t1 int8 NOT NULL,
  n int4 NOT NULL,
  data bytea NOT NULL,
  PRIMARY KEY (machine_id, t0)
);
ALTER TABLE sample_chunk ALTER COLUMN data SET STORAGE EXTERNAL;

CREATE TABLE analyzer_state (
  machine_id text COLLATE "C" PRIMARY KEY,
  body json NOT NULL
) WITH (fillfactor = 50);

CREATE TABLE analyzer_snapshot (
  machine_id text COLLATE "C" NOT NULL,
  at int8 NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (machine_id, at)
);

CREATE TABLE finding (
  id text COLLATE "C" PRIMARY KEY,
  machine_id text COLLATE "C" NOT NULL,
  kind text COLLATE "C" NOT NULL,
  started int8 NOT NULL,
  ended int8,
  severity text NOT NULL,
  "values" json NOT NULL,
  evidence json NOT NULL,
  threshold_set text NOT NULL,
  emitted int8 NOT NULL,
  revision int4 NOT NULL DEFAULT 1,
  withdrawn_at int8
);
CREATE INDEX finding_by_start ON finding (machine_id, started DESC, id) WHERE withdrawn_at IS NULL;
CREATE INDEX finding_by_emission ON finding (machine_id, emitted) WHERE withdrawn_at IS NULL;

CREATE TABLE residency_row (
  machine_id text COLLATE "C" NOT NULL,
  started int8 NOT NULL,
  running_s float8 NOT NULL,
  idle_s float8 NOT NULL,
  cooling_down_s float8 NOT NULL,
  light_s float8 NOT NULL,
  working_s float8 NOT NULL,
  below_s float8 NOT NULL,
  in_s float8 NOT NULL,
  above_s float8 NOT NULL,
  below_release_s float8 NOT NULL,
  no_temperature_s float8 NOT NULL,
  cranking_s float8 NOT NULL,
  off_s float8 NOT NULL,
  unobserved_s float8 NOT NULL,
  max_exhaust_temp_c float8,
  fuel_l float8 NOT NULL,
  PRIMARY KEY (machine_id, started)
);

CREATE TABLE ingest_cursor (
  source text COLLATE "C" NOT NULL,
  "partition" int4 NOT NULL,
  next_offset int8 NOT NULL,
  epoch int8 NOT NULL,
  PRIMARY KEY (source, "partition")
) WITH (fillfactor = 50);
`;

/** All steps in order of their numbers. */
export const migrations: readonly Migration[] = [
  { number: 1, title: 'machines, samples, states, findings, residency and cursors', sql: firstTables },
  { number: 2, title: 'fault reports, rejects and the outbox', sql: messageTables },
  { number: 3, title: 'samples in a table a month', sql: partitionedSamples },
  { number: 4, title: 'residency rows as one value', sql: packedRows },
  { number: 5, title: 'fault episodes, derates and inquiries', sql: faultTables },
  { number: 6, title: 'alerts, rules and maintenance windows', sql: alertTables },
  { number: 7, title: 'fleets, keys, the audit log and answers to repeat', sql: accessTables },
  { number: 8, title: 'threshold sets, trials and promotions', sql: tuningTables },
  { number: 11, title: 'destinations of alerts and deliveries', sql: deliveryTables },
  { number: 12, title: 'service records, batches of DEF, inspections', sql: serviceTables },
  { number: 13, title: 'the secret of masked reports', sql: reportKeyTable },
  { number: 14, title: 'the score of each machine and day', sql: scoreTables },
  { number: 15, title: 'ways to the machines with an active fault', sql: activeFaultTables },
];

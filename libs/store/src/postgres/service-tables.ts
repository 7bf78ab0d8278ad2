/** Step 12 of the database: service records, batches of DEF, inspections. */

/** The step's SQL; published, so it never changes. */
export const serviceTables = `
CREATE TABLE service_record (
  id text COLLATE "C" PRIMARY KEY,
  machine_id text COLLATE "C" NOT NULL,
  item text COLLATE "C" NOT NULL,
  at int8 NOT NULL,
  engine_hours float8,
  note text NOT NULL,
  recorded_by text NOT NULL,
  recorded int8 NOT NULL
);
CREATE INDEX service_record_of_machine ON service_record (machine_id, at DESC, id);

CREATE TABLE def_batch (
  id text COLLATE "C" PRIMARY KEY,
  fleet_id text COLLATE "C" NOT NULL,
  purchased int8 NOT NULL,
  body json NOT NULL
);
CREATE INDEX def_batch_by_purchase ON def_batch (purchased, id);

CREATE TABLE inspection (
  machine_id text COLLATE "C" NOT NULL,
  shift_started int8 NOT NULL,
  version int4 NOT NULL,
  at int8 NOT NULL,
  body json NOT NULL,
  PRIMARY KEY (machine_id, shift_started, version)
);
`;

/** Step 11 of the database: destinations, deliveries and the log of their tries. */

/** The step's SQL; published, so it never changes. */
export const deliveryTables = `
CREATE TABLE destination (
  id text COLLATE "C" PRIMARY KEY,
  fleet_id text COLLATE "C" NOT NULL,
  body json NOT NULL
);

CREATE TABLE delivery (
  id text COLLATE "C" PRIMARY KEY,
  seq int8 GENERATED ALWAYS AS IDENTITY,
  destination_id text COLLATE "C" NOT NULL REFERENCES destination ON DELETE CASCADE,
  machine_id text COLLATE "C" NOT NULL,
  thread_id text COLLATE "C" NOT NULL,
  subject text NOT NULL,
  body text NOT NULL,
  plain text NOT NULL,
  state text COLLATE "C" NOT NULL DEFAULT 'waiting',
  -- Nobody takes it before this time: quiet hours, the end of a lease, or the time of the next try.
  available int8 NOT NULL,
  owner text,
  attempts int4 NOT NULL DEFAULT 0,
  created int8 NOT NULL,
  first_tried int8,
  sent int8
);
CREATE INDEX delivery_by_seq ON delivery (seq);
CREATE INDEX delivery_due ON delivery (available, seq) WHERE state = 'waiting';
CREATE INDEX delivery_thread ON delivery (destination_id, thread_id, seq);
CREATE INDEX delivery_settled ON delivery (created) WHERE state <> 'waiting';

CREATE TABLE delivery_attempt (
  delivery_id text COLLATE "C" NOT NULL REFERENCES delivery ON DELETE CASCADE,
  n int8 GENERATED ALWAYS AS IDENTITY,
  at int8 NOT NULL,
  result text COLLATE "C" NOT NULL,
  status text NOT NULL,
  detail text NOT NULL,
  took_ms int4 NOT NULL,
  PRIMARY KEY (delivery_id, n)
);
`;

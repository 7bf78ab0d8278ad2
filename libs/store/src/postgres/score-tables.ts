/** Step 14 of the database: the score of each machine and day. */

/** The step's SQL; published, so it never changes. */
export const scoreTables = `
CREATE TABLE score_day (
  machine_id text COLLATE "C" NOT NULL,
  -- Start of the UTC day.
  day int8 NOT NULL,
  at int8 NOT NULL,
  value float8 NOT NULL,
  confidence float8 NOT NULL,
  threshold_set text NOT NULL,
  parts json NOT NULL,
  PRIMARY KEY (machine_id, day)
) WITH (fillfactor = 50);
`;

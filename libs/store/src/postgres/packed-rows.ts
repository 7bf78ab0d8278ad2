/** Step 4 of the database: a residency row's figures as one value, and states that are not packed by the server. */

/**
 * The step's SQL; published, so it never changes. Rows of before are taken over in the plain form of `pack-row.ts`.
 * The server's own packing of states took most of its time in a commit; they are short-lived, so they stay as they are.
 */
export const packedRows = `
ALTER TABLE residency_row RENAME TO wide_row;
ALTER INDEX residency_row_pkey RENAME TO wide_row_pkey;
CREATE TABLE residency_row (
  machine_id text COLLATE "C" NOT NULL,
  started int8 NOT NULL,
  body bytea NOT NULL,
  PRIMARY KEY (machine_id, started)
) WITH (fillfactor = 80);
INSERT INTO residency_row SELECT machine_id, started, '\\x01'::bytea
  || float8send(started::float8) || float8send(running_s) || float8send(idle_s) || float8send(cooling_down_s) || float8send(light_s)
  || float8send(working_s) || float8send(below_s) || float8send(in_s) || float8send(above_s)
  || float8send(below_release_s) || float8send(no_temperature_s) || float8send(cranking_s) || float8send(off_s)
  || float8send(unobserved_s) || float8send(coalesce(max_exhaust_temp_c, 'NaN')) || float8send(fuel_l)
  FROM wide_row;
DROP TABLE wide_row;

ALTER TABLE analyzer_state ALTER COLUMN body SET STORAGE EXTERNAL;
ALTER TABLE machine ALTER COLUMN summary SET STORAGE EXTERNAL;
`;

/** Step 3 of the database: chunks in a table a month, so that old months go as a whole. */

/** First time with a month of its own; earlier ones, of clocks that were never set, share one table. 2015-01-01 UTC. */
export const firstMonthMs = 1_420_070_400_000;

/** End of the last month of its own; later ones share one table. 2100-01-01 UTC. */
const endOfMonthsMs = 4_102_444_800_000;

/**
 * The step's SQL; published, so it never changes. There is no default partition: it would have to be searched whenever a
 * month is added. Every time has a place, since months are made when their first sample comes.
 */
export const partitionedSamples = `
ALTER TABLE sample_chunk RENAME TO unparted_chunk;
ALTER INDEX sample_chunk_pkey RENAME TO unparted_chunk_pkey;
CREATE TABLE sample_chunk (
  machine_id text COLLATE "C" NOT NULL,
  t0 int8 NOT NULL,
  t1 int8 NOT NULL,
  n int4 NOT NULL,
  data bytea NOT NULL,
  PRIMARY KEY (machine_id, t0)
) PARTITION BY RANGE (t0);
-- Before the first partition: a partition takes the setting over when it is made.
ALTER TABLE sample_chunk ALTER COLUMN data SET STORAGE EXTERNAL;
CREATE TABLE sample_chunk_early PARTITION OF sample_chunk FOR VALUES FROM (MINVALUE) TO (${firstMonthMs});
CREATE TABLE sample_chunk_far PARTITION OF sample_chunk FOR VALUES FROM (${endOfMonthsMs}) TO (MAXVALUE);
ALTER TABLE sample_chunk_early ALTER COLUMN data SET STORAGE EXTERNAL;
ALTER TABLE sample_chunk_far ALTER COLUMN data SET STORAGE EXTERNAL;

-- Makes the table of the month that a time lies in, unless it is there. Made first and attached then: attaching lets
-- readers and writers of the other months go on.
CREATE FUNCTION make_sample_month(of_ms int8) RETURNS void LANGUAGE plpgsql AS $make$
DECLARE
  first_day timestamp := date_trunc('month', to_timestamp(of_ms / 1000.0) AT TIME ZONE 'UTC');
  month_name text := 'sample_chunk_' || to_char(first_day, 'YYYY_MM');
  from_ms int8 := extract(epoch FROM first_day)::int8 * 1000;
  to_ms int8 := extract(epoch FROM first_day + interval '1 month')::int8 * 1000;
BEGIN
  IF of_ms < ${firstMonthMs} OR of_ms >= ${endOfMonthsMs} THEN RETURN; END IF;
  PERFORM pg_advisory_xact_lock(7269141551);
  IF to_regclass(month_name) IS NOT NULL THEN RETURN; END IF;
  EXECUTE format('CREATE TABLE %I (LIKE sample_chunk INCLUDING STORAGE)', month_name);
  EXECUTE format('ALTER TABLE sample_chunk ATTACH PARTITION %I FOR VALUES FROM (%s) TO (%s)', month_name, from_ms, to_ms);
END
$make$;

DO $move$
DECLARE
  month_ms int8;
BEGIN
  FOR month_ms IN
    SELECT DISTINCT extract(epoch FROM date_trunc('month', to_timestamp(t0 / 1000.0) AT TIME ZONE 'UTC'))::int8 * 1000
    FROM unparted_chunk WHERE t0 >= ${firstMonthMs} AND t0 < ${endOfMonthsMs}
  LOOP
    PERFORM make_sample_month(month_ms);
  END LOOP;
END
$move$;
INSERT INTO sample_chunk SELECT machine_id, t0, t1, n, data FROM unparted_chunk;
DROP TABLE unparted_chunk;
`;

/** Step 8 of the database: threshold sets, trials, and the list of promotions. */

/** The step's SQL; published, so it never changes. */
export const tuningTables = `
CREATE TABLE threshold_set (
  version text COLLATE "C" PRIMARY KEY,
  body json NOT NULL,
  author text NOT NULL,
  reason text NOT NULL,
  trial_id text COLLATE "C",
  needs_approval boolean NOT NULL,
  created int8 NOT NULL,
  approved_by text,
  approved int8
);
CREATE TABLE trial (
  trial_id text COLLATE "C" PRIMARY KEY,
  title text NOT NULL,
  author text NOT NULL,
  created int8 NOT NULL,
  document text NOT NULL
);
ALTER TABLE trial ALTER COLUMN document SET STORAGE EXTENDED;
-- Only ever added to: which set judges a sample hangs on this list and the sample's time alone.
CREATE TABLE set_promotion (
  id int8 PRIMARY KEY GENERATED ALWAYS AS IDENTITY,
  version text COLLATE "C" REFERENCES threshold_set,
  scope_kind text COLLATE "C" NOT NULL,
  scope_name text COLLATE "C",
  started int8 NOT NULL,
  is_recomputed boolean NOT NULL,
  author text NOT NULL,
  reason text NOT NULL,
  created int8 NOT NULL
);
CREATE TABLE machine_recompute (
  machine_id text COLLATE "C" PRIMARY KEY,
  promotion_id int8 NOT NULL
);
`;

/** Step 13 of the database: the secret that neutral labels of masked reports are made with. */

/** The step's SQL; published, so it never changes. */
export const reportKeyTable = `
CREATE TABLE report_key (
  is_only boolean PRIMARY KEY DEFAULT true CHECK (is_only),
  key text NOT NULL
);
INSERT INTO report_key (key) VALUES (gen_random_uuid()::text || gen_random_uuid()::text);
`;

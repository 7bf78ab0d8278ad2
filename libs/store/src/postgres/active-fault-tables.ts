/** Step 15 of the database: ways to the machines on which a fault is active, of all that ever were. */

/** The step's SQL; published, so it never changes. */
export const activeFaultTables = `
CREATE INDEX fault_episode_active ON fault_episode (machine_id) WHERE ended IS NULL;
CREATE INDEX finding_inducement_open ON finding (machine_id)
  WHERE kind = 'inducement-step' AND ended IS NULL AND withdrawn_at IS NULL;
`;

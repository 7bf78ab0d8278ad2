/** A database of which only some fleets can be seen: each transaction takes on the role and names the fleets. */

import type { Database, Session } from './database.js';
import type { Walls } from './fleet-wall.js';

/** What a fleet's id may look like; anything else never gets into a statement. */
const fleetIdPattern = /^[a-z0-9][a-z0-9-]{0,39}$/;

/**
 * Runs everything within the fleets.
 *
 * Errors: a bug's error for an id that is no fleet's; ids are checked where they come in.
 */
export function withinFleets(database: Database, walls: Walls, fleets: readonly string[]): Database {
  const wrong = fleets.find((fleet) => !fleetIdPattern.test(fleet));
  if (wrong !== undefined) throw new Error(`"${wrong}" is no id of a fleet`);
  const role = walls.role === null ? '' : `SET LOCAL ROLE ${walls.role};`;
  const text = `${role} SET LOCAL warmbrick.fleets = '{${fleets.map((fleet) => `"${fleet}"`).join(',')}}'`;
  const inTransaction = <T>(body: (session: Session) => Promise<T>): Promise<T> =>
    database.inTransaction(async (session) => {
      await session.query({ text });
      return body(session);
    });
  return {
    inTransaction,
    query: (statement) => inTransaction((session) => session.query(statement)),
    // The connections belong to the whole store.
    close: async () => {},
  };
}

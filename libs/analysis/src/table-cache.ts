/** Tables that hang on settings alone: machines with the same settings share one. */

export interface TableCache<Table> {
  get(key: string): Table | undefined;
  /** Keeps a table and gives it back. */
  add(key: string, table: Table): Table;
}

/** Sets of settings in use at one time; beyond this the oldest table is made anew when it is wanted again. */
const mostTables = 64;

/** Creates an empty cache, bounded. */
export function createTableCache<Table>(): TableCache<Table> {
  const tables = new Map<string, Table>();
  return {
    get: (key) => tables.get(key),
    add(key, table) {
      const oldest = tables.keys().next();
      if (tables.size >= mostTables && oldest.done !== true) tables.delete(oldest.value);
      tables.set(key, table);
      return table;
    },
  };
}

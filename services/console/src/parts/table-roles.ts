/**
 * Roles of a table's elements, spelled out as properties to spread: on a phone these tables are laid out as cards, and a
 * browser may take the table's meaning away along with its layout.
 */
export const tableRoles = {
  table: { role: 'table' },
  rowGroup: { role: 'rowgroup' },
  row: { role: 'row' },
  columnHeader: { role: 'columnheader' },
  rowHeader: { role: 'rowheader' },
  cell: { role: 'cell' },
} as const;

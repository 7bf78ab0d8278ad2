/** Tables for a terminal. */

/** Lines of a table: the first column to the left, all others to the right. Shapes: every row as long as the first. */
export function textTable(rows: readonly (readonly string[])[]): string {
  const widths = (rows[0] ?? []).map((_, k) => Math.max(...rows.map((row) => (row[k] ?? '').length)));
  const line = (row: readonly string[]) =>
    row.map((cell, k) => (k === 0 ? cell.padEnd(widths[k] ?? 0) : cell.padStart(widths[k] ?? 0))).join('   ');
  return rows.map((row) => line(row).trimEnd()).join('\n');
}

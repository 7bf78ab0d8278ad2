/** A series as a table: what CSV and Parquet are made of. */

/** A column; times are UTC epoch milliseconds. Missing: null, or NaN among numbers. */
export type TableColumn =
  | { readonly name: string; readonly kind: 'time'; readonly values: ArrayLike<number> }
  | { readonly name: string; readonly kind: 'number'; readonly values: ArrayLike<number | null> }
  | { readonly name: string; readonly kind: 'text'; readonly values: ArrayLike<string | null> };

export interface Table {
  /** All columns have the same length. */
  readonly columns: readonly TableColumn[];
  readonly length: number;
}

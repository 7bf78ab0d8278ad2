/** What is printed: a sheet of blocks, the same for paper, page and PDF. Plain text only; nothing in it is markup. */

/** A column of a table; the shares of all columns are parts of the width. */
export interface PrintColumn {
  readonly head: string;
  readonly share: number;
  readonly isNumber?: boolean;
}

/** One channel in a window around an event: a small course and the values at the marked times. */
export interface PrintCourse {
  readonly label: string;
  /** Evenly spaced over the window; null where nothing was measured. */
  readonly course: readonly (number | null)[];
  /** One for each mark. */
  readonly cells: readonly string[];
}

export type PrintBlock =
  | { readonly kind: 'heading'; readonly level: 2 | 3; readonly text: string }
  | { readonly kind: 'text'; readonly text: string; readonly isQuiet?: boolean }
  | { readonly kind: 'list'; readonly items: readonly string[] }
  | { readonly kind: 'facts'; readonly rows: readonly (readonly [string, string])[] }
  | {
      readonly kind: 'table';
      readonly title: string;
      readonly columns: readonly PrintColumn[];
      readonly rows: readonly (readonly string[])[];
    }
  | { readonly kind: 'caution'; readonly text: string }
  | {
      readonly kind: 'window';
      readonly title: string;
      /** Heads of the value columns, such as "-5 min". */
      readonly marks: readonly string[];
      /** Where the event lies between start and end of the course, 0..1. */
      readonly eventRatio: number;
      readonly rows: readonly PrintCourse[];
    };

export interface PrintSheet {
  readonly title: string;
  readonly subtitle: string;
  /** Stands at the foot of every page beside its number. */
  readonly foot: string;
  readonly blocks: readonly PrintBlock[];
}

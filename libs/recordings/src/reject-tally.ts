/** Counts what could not be taken in, and keeps the first few examples. Bad input is a value, not a crash. */

/** Closed list of reasons for rejecting a line, a row or a frame. */
export type RejectReason =
  | 'bad-line'
  | 'line-too-long'
  | 'bad-time'
  | 'bad-machine'
  | 'bad-value'
  | 'no-channels'
  | 'bad-frame'
  | 'incomplete-transfer';

export interface RejectExample {
  readonly reason: RejectReason;
  /** Such as "shift.csv, line 12". */
  readonly where: string;
  readonly detail: string;
}

const examplesKept = 20;
const detailLength = 200;

export class RejectTally {
  count = 0;
  readonly byReason: Partial<Record<RejectReason, number>> = {};
  readonly examples: RejectExample[] = [];

  add(reason: RejectReason, where: string, detail: string): void {
    this.count++;
    this.byReason[reason] = (this.byReason[reason] ?? 0) + 1;
    if (this.examples.length < examplesKept) {
      this.examples.push({ reason, where, detail: detail.slice(0, detailLength) });
    }
  }
}

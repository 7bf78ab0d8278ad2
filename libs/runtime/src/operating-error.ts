/** A failure that the running program has to live with: a file, a network, a user's mistake. Never a bug. */

export interface OperatingErrorOptions {
  /** Kebab-case code of the error catalogue. */
  readonly code: string;
  readonly isRetriable?: boolean;
  /** Where it happened, such as "truck.csv, line 12". */
  readonly where?: string;
  /** What to do about it. */
  readonly remedy?: string;
  readonly cause?: unknown;
}

export class OperatingError extends Error {
  readonly code: string;
  readonly isRetriable: boolean;
  readonly where: string | undefined;
  readonly remedy: string | undefined;

  constructor(message: string, options: OperatingErrorOptions) {
    super(message, options.cause === undefined ? undefined : { cause: options.cause });
    this.name = 'OperatingError';
    this.code = options.code;
    this.isRetriable = options.isRetriable ?? false;
    this.where = options.where;
    this.remedy = options.remedy;
  }

  /** One readable text: where, what, and what to do. */
  toUserMessage(): string {
    const place = this.where === undefined ? '' : `${this.where}: `;
    const remedy = this.remedy === undefined ? '' : ` ${this.remedy}`;
    return `${place}${this.message}${remedy}`;
  }
}

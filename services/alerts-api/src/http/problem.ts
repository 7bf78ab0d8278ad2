/** Errors as RFC 9457 problem documents, from one closed list; nothing about the inside of the process gets out. */

import type { Problem } from '@warmbrick/contracts';
import { OperatingError } from '@warmbrick/runtime';
import type { FastifyError } from 'fastify';

interface ProblemKind {
  readonly status: number;
  readonly title: string;
}

/** Every problem the API answers with, by code. Source of the statuses: RFC 9110, 15.5-15.6, and RFC 6585, 4. */
export const problemKinds = {
  'invalid-request': { status: 400, title: 'The request is not valid' },
  'invalid-cursor': { status: 400, title: 'The page cursor is not one of ours' },
  'not-found': { status: 404, title: 'There is nothing here' },
  'machine-not-found': { status: 404, title: 'No such machine' },
  'method-not-allowed': { status: 405, title: 'This cannot be done here' },
  'body-too-large': { status: 413, title: 'The body is too large' },
  'uri-too-long': { status: 414, title: 'The address is too long' },
  'unsupported-media-type': { status: 415, title: 'This kind of body is not read here' },
  'misdirected-request': { status: 421, title: 'This host name is not served here' },
  'too-many-requests': { status: 429, title: 'Too many requests' },
  'internal-error': { status: 500, title: 'Something went wrong on our side' },
  overloaded: { status: 503, title: 'Too busy right now' },
  'too-many-streams': { status: 503, title: 'Too many open event streams' },
  'store-unavailable': { status: 503, title: 'The database does not answer' },
} as const satisfies Record<string, ProblemKind>;

export type ProblemCode = keyof typeof problemKinds;

export interface FieldError {
  readonly path: string;
  readonly message: string;
}

/** Seconds after which a client may try again. Source: engineering judgement. */
export const retryAfterS = 5;

/** A problem to answer with; thrown by routes, written by the error handler. */
export class ProblemError extends Error {
  readonly code: ProblemCode;
  readonly errors: readonly FieldError[] | undefined;

  constructor(code: ProblemCode, detail: string, errors?: readonly FieldError[]) {
    super(detail);
    this.name = 'ProblemError';
    this.code = code;
    this.errors = errors;
  }

  /** Read by plugins that answer by themselves. */
  get statusCode(): number {
    return problemKinds[this.code].status;
  }
}

/** The document of a problem. `instance` is the path that was asked for. */
export function problemDocument(problem: ProblemError, instance: string): Problem {
  const { status, title } = problemKinds[problem.code];
  return {
    type: `urn:warmbrick:problem:${problem.code}`,
    title,
    status,
    detail: problem.message,
    instance,
    code: problem.code,
    ...(problem.errors === undefined ? {} : { errors: [...problem.errors] }),
  };
}

/** Turns whatever was thrown into a problem; null for a bug, of which the client learns nothing. */
export function problemOf(error: unknown): ProblemError | null {
  if (error instanceof ProblemError) return error;
  if (error instanceof OperatingError) return operatingProblem(error);
  if (!isFastifyError(error)) return null;
  if (Array.isArray(error.validation)) return validationProblem(error);
  const code = problemByStatus[error.statusCode ?? 500];
  return code === undefined ? null : new ProblemError(code, details[code] ?? problemKinds[code].title);
}

function operatingProblem(error: OperatingError): ProblemError | null {
  if (error.code === 'invalid-cursor' || error.code === 'bad-cursor') {
    return new ProblemError('invalid-cursor', 'The cursor was not made by this API. Start again without a cursor.');
  }
  if (error.isRetriable) {
    return new ProblemError('store-unavailable', `The database does not answer. Try again in ${retryAfterS} s.`);
  }
  return null;
}

const problemByStatus: Readonly<Record<number, ProblemCode>> = {
  400: 'invalid-request',
  404: 'not-found',
  405: 'method-not-allowed',
  413: 'body-too-large',
  414: 'uri-too-long',
  415: 'unsupported-media-type',
  429: 'too-many-requests',
  503: 'overloaded',
};

const details: Partial<Record<ProblemCode, string>> = {
  'invalid-request': 'The request could not be read. Check the address and, if there is one, the body.',
  'body-too-large': 'Send a smaller body.',
  'unsupported-media-type': 'Send the body as application/json.',
  overloaded: `Try again in ${retryAfterS} s.`,
};

const partNames: Readonly<Record<string, string>> = { querystring: 'query', params: 'path' };

function validationProblem(error: FastifyError): ProblemError {
  const part = partNames[error.validationContext ?? ''] ?? error.validationContext ?? 'request';
  const errors = (error.validation ?? []).flatMap(({ instancePath, message, params }) => {
    const path = [part, ...instancePath.split('/').filter((piece) => piece !== '')].join('.');
    const unknown: unknown = params.keys;
    return Array.isArray(unknown)
      ? unknown.map((key) => ({ path: `${path}.${String(key)}`, message: 'There is no such parameter here.' }))
      : [{ path, message: message ?? 'Not valid.' }];
  });
  const paths = errors.map(({ path }) => path).join(', ');
  return new ProblemError('invalid-request', `Not valid: ${paths}. See errors for each.`, errors);
}

function isFastifyError(error: unknown): error is FastifyError {
  return error instanceof Error && ('statusCode' in error || 'validation' in error);
}

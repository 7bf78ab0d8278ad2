/** Errors as RFC 9457 problem documents, from one closed list; nothing about the inside of the process gets out. */

import type { Problem } from '@warmbrick/contracts';
import { type ErrorCode, errorCatalogue, OperatingError } from '@warmbrick/runtime';
import type { FastifyError } from 'fastify';

interface ProblemKind {
  readonly status: number;
  readonly title: string;
}

/** Problems of HTTP itself, by code; all others are those of the error catalogue. Source of the statuses: RFC 9110, 15.5-15.6, and RFC 6585, 4. */
const httpKinds = {
  'invalid-request': { status: 400, title: 'The request is not valid' },
  'key-missing': { status: 401, title: 'This takes an API key' },
  'key-invalid': { status: 401, title: 'The key is not valid' },
  'key-expired': { status: 401, title: 'The key has expired' },
  'key-revoked': { status: 401, title: 'The key was revoked' },
  'cross-site': { status: 403, title: 'Another site sent this' },
  'role-too-low': { status: 403, title: 'This is not allowed with this key' },
  'not-found': { status: 404, title: 'There is nothing here' },
  'machine-not-found': { status: 404, title: 'No such machine' },
  'method-not-allowed': { status: 405, title: 'This cannot be done here' },
  'body-too-large': { status: 413, title: 'The body is too large' },
  'uri-too-long': { status: 414, title: 'The address is too long' },
  'unsupported-media-type': { status: 415, title: 'This kind of body is not read here' },
  'fleet-not-yours': { status: 403, title: 'This is not allowed with this key' },
  'key-not-found': { status: 404, title: 'No such key' },
  'recording-not-found': { status: 404, title: 'Nothing is archived of that day' },
  'fleet-not-found': { status: 404, title: 'No such fleet' },
  'fleet-exists': { status: 409, title: 'There is such a fleet already' },
  'alert-not-found': { status: 404, title: 'No such alert' },
  'rule-not-found': { status: 404, title: 'No such rule' },
  'rule-exists': { status: 409, title: 'There is such a rule already' },
  'rule-not-valid': { status: 422, title: 'The rule is not valid' },
  'set-exists': { status: 409, title: 'There is such a set already' },
  'set-not-found': { status: 404, title: 'No such threshold set' },
  'set-not-approved': { status: 409, title: 'The set waits for a second pair of eyes' },
  'own-set': { status: 403, title: 'Nobody approves a set of their own' },
  'promotion-not-found': { status: 404, title: 'No such promotion' },
  'promotion-refused': { status: 422, title: 'The set cannot be promoted so' },
  'trial-not-found': { status: 404, title: 'No such trial' },
  'window-not-found': { status: 404, title: 'No such maintenance window' },
  'action-refused': { status: 409, title: 'This cannot be done to the alert' },
  'destination-not-found': { status: 404, title: 'No such destination' },
  'derate-not-found': { status: 404, title: 'No such derate' },
  'record-not-found': { status: 404, title: 'No such record' },
  'shift-not-found': { status: 404, title: 'No such shift' },
  'edited-meanwhile': { status: 409, title: 'Somebody else has changed it' },
  'delivery-not-found': { status: 404, title: 'No such delivery' },
  'too-many-destinations': { status: 409, title: 'There are too many destinations' },
  'last-admin-key': { status: 409, title: 'It is the last key with which everything can be done' },
  'request-under-way': { status: 409, title: 'The same request is under way' },
  'idempotency-key-reused': { status: 422, title: 'The idempotency key belongs to another body' },
  'misdirected-request': { status: 421, title: 'This host name is not served here' },
  'too-many-requests': { status: 429, title: 'Too many requests' },
  'internal-error': { status: 500, title: 'Something went wrong on our side' },
  overloaded: { status: 503, title: 'Too busy right now' },
  'too-many-streams': { status: 503, title: 'Too many open event streams' },
} as const satisfies Record<string, ProblemKind>;

export type ProblemCode = keyof typeof httpKinds | ErrorCode;

const problemKinds: ReadonlyMap<ProblemCode, ProblemKind> = new Map<ProblemCode, ProblemKind>([
  ...(Object.keys(errorCatalogue) as ErrorCode[]).map((code) => [code, catalogued(code)] as const),
  ...(Object.keys(httpKinds) as (keyof typeof httpKinds)[]).map((code) => [code, httpKinds[code]] as const),
]);

/** Status and title of a problem. */
export function problemKind(code: ProblemCode): ProblemKind {
  return problemKinds.get(code) ?? httpKinds['internal-error'];
}

function catalogued(code: ErrorCode): ProblemKind {
  const { httpStatus, title } = errorCatalogue[code];
  return { status: httpStatus, title };
}

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
    return problemKind(this.code).status;
  }
}

/** The document of a problem. `instance` is the path that was asked for. */
export function problemDocument(problem: ProblemError, instance: string): Problem {
  const { status, title } = problemKind(problem.code);
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
  return code === undefined ? null : new ProblemError(code, details[code] ?? problemKind(code).title);
}

/** Of a failure on our side only what to do is told: its message may name hosts and folders. */
function operatingProblem(error: OperatingError): ProblemError | null {
  const entry = (errorCatalogue as Readonly<Record<string, (typeof errorCatalogue)[ErrorCode]>>)[error.code];
  if (entry === undefined) return error.isRetriable ? new ProblemError('overloaded', tryAgain) : null;
  if (entry.httpStatus === 500) return null;
  const code = error.code as ErrorCode;
  return new ProblemError(code, entry.httpStatus < 500 ? `${error.message} ${entry.remedy}` : tryAgain);
}

const tryAgain = `Try again in ${retryAfterS} s.`;

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
  overloaded: tryAgain,
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

/** Refuses texts that no database column can hold, in one place for all routes. */

import type { FastifyInstance } from 'fastify';
import { type FieldError, ProblemError } from './problem.js';

const message = 'The character U+0000 and halves of surrogate pairs are not taken.';

/** Installs it on the whole app. Bodies that are streams are checked by whoever reads them. */
export function refuseNul(app: FastifyInstance): void {
  app.addHook('preValidation', async ({ params, query, body }) => {
    const errors: FieldError[] = [];
    for (const [place, value] of Object.entries({ path: params, query, body })) {
      const found = pathOfBad(value, place);
      if (found !== null) errors.push({ path: found, message });
    }
    if (errors.length > 0)
      throw new ProblemError('invalid-request', 'A text is not valid. See errors for each.', errors);
  });
}

/** Where the first such text is; null when there is none. Bodies are bounded, and so is their depth. */
function pathOfBad(value: unknown, path: string): string | null {
  if (typeof value === 'string') return isBad(value) ? path : null;
  if (typeof value !== 'object' || value === null || isStream(value)) return null;
  for (const [name, inner] of Object.entries(value)) {
    if (isBad(name)) return path;
    const found = pathOfBad(inner, `${path}.${name}`.slice(0, 200));
    if (found !== null) return found;
  }
  return null;
}

function isStream(value: object): boolean {
  return 'pipe' in value && typeof value.pipe === 'function';
}

function isBad(text: string): boolean {
  return text.includes('\u0000') || /\p{Cs}/u.test(text);
}

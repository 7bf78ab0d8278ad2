/** Answers to requests with an idempotency key, given again when the request is repeated. */

import type { RepeatableAnswer } from '../access-store.js';
import type { Database, Session } from './database.js';
import { nowSql } from './outbox.js';

/** How long an answer is kept, in ms. Source: common practice: a day. */
const keptMs = 86_400_000;
/** A request that was begun and has no answer after this time has died, in ms. */
const longestUnderWayMs = 60_000;
/** Answers of one caller at most; the oldest go first. Source: engineering judgement. */
const mostOfCaller = 1000;

export interface RepeatableRequest {
  readonly caller: string;
  readonly key: string;
  readonly request: Uint8Array;
}

/** Begins a request, or says what became of the one with this key. */
export async function beginRepeatable(
  database: Database,
  { caller, key, request }: RepeatableRequest,
): Promise<RepeatableAnswer> {
  return database.inTransaction(async (session) => {
    await forgetOld(session, caller);
    const { rowCount } = await session.query({
      text: `INSERT INTO repeatable_answer (caller, key, request, at) VALUES ($1, $2, $3, ${nowSql}) ON CONFLICT DO NOTHING`,
      values: [caller, key, Buffer.from(request)],
    });
    if (rowCount === 1) return { state: 'new' };
    const { rows } = await session.query({
      text: 'SELECT request, status, body FROM repeatable_answer WHERE caller = $1 AND key = $2',
      values: [caller, key],
    });
    const known = rows[0];
    if (known === undefined || known.status === null) {
      const isSame = known !== undefined && Buffer.compare(known.request, Buffer.from(request)) === 0;
      return isSame || known === undefined ? { state: 'under-way' } : { state: 'other-request' };
    }
    if (Buffer.compare(known.request, Buffer.from(request)) !== 0) return { state: 'other-request' };
    return { state: 'answered', status: known.status, body: known.body };
  });
}

async function forgetOld(session: Session, caller: string): Promise<void> {
  await session.query({
    text: `DELETE FROM repeatable_answer WHERE caller = $1 AND (at < ${nowSql} - ${keptMs}
      OR status IS NULL AND at < ${nowSql} - ${longestUnderWayMs}
      OR (caller, key) IN (SELECT caller, key FROM repeatable_answer WHERE caller = $1 ORDER BY at DESC OFFSET ${mostOfCaller - 1}))`,
    values: [caller],
  });
}

/** Keeps the answer of a request, or forgets the request. */
export async function endRepeatable(
  session: Session,
  { caller, key }: Pick<RepeatableRequest, 'caller' | 'key'>,
  answer: { readonly status: number; readonly body: string } | null,
): Promise<void> {
  const [text, values] =
    answer === null
      ? ['DELETE FROM repeatable_answer WHERE caller = $1 AND key = $2', []]
      : [
          'UPDATE repeatable_answer SET status = $3, body = $4 WHERE caller = $1 AND key = $2',
          [answer.status, answer.body],
        ];
  await session.query({ text: text as string, values: [caller, key, ...(values as unknown[])] });
}

/** Deletes answers of callers who do not come any more. */
export async function retireRepeatable(session: Session): Promise<number> {
  const { rowCount } = await session.query({
    text: `DELETE FROM repeatable_answer WHERE at < ${nowSql} - ${keptMs}`,
  });
  return rowCount;
}

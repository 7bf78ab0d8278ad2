/** The history of an answer: what changed when something came late. */

import type { DerateInquiry, InquiryRevision, OriginCandidate } from './derate-inquiry.js';

/** Revisions kept for one derate; the first and the newest stay. Source: design decision. */
export const maxRevisions = 50;
/** A likelihood that moves by less is no news. Source: engineering judgement. */
const newsLikelihood = 0.1;

/**
 * Adds an answer to the history of a derate; the history as it was when nothing of it changed that matters: the verdict,
 * the origins named, the first of the candidates, or a likelihood by a tenth.
 */
export function reviseInquiry(
  history: readonly InquiryRevision[],
  inquiry: DerateInquiry,
  madeMs: number,
): readonly InquiryRevision[] {
  const last = history.at(-1);
  if (last === undefined) return [{ revision: 1, madeMs, inquiry, changes: [] }];
  const changes = changesBetween(last.inquiry, inquiry);
  if (changes.length === 0) return history;
  const next = [...history, { revision: last.revision + 1, madeMs, inquiry, changes }];
  return next.length > maxRevisions ? [next[0] as InquiryRevision, ...next.slice(2)] : next;
}

function changesBetween(before: DerateInquiry, after: DerateInquiry): string[] {
  const changes: string[] = [];
  if (before.verdict !== after.verdict) changes.push(`the verdict was ${before.verdict} and is ${after.verdict}`);
  const [was, is] = [named(before), named(after)];
  if (was.join() !== is.join())
    changes.push(`the origin was ${was.join(', ') || 'unknown'} and is ${is.join(', ') || 'unknown'}`);
  const known = new Map(before.origins.map((origin) => [origin.faultId, origin]));
  for (const origin of after.origins) {
    const earlier = known.get(origin.faultId);
    if (earlier === undefined) changes.push(`${codeOf(origin)} is a new candidate`);
    else if (Math.abs(earlier.likelihood - origin.likelihood) >= newsLikelihood) {
      changes.push(`the likelihood of ${codeOf(origin)} went from ${earlier.likelihood} to ${origin.likelihood}`);
    }
  }
  const left = new Set(after.origins.map(({ faultId }) => faultId));
  for (const origin of before.origins)
    if (!left.has(origin.faultId)) changes.push(`${codeOf(origin)} is no candidate any more`);
  return changes;
}

function named({ origins }: DerateInquiry): string[] {
  return origins.filter(({ isOrigin }) => isOrigin).map(codeOf);
}

function codeOf({ spn, fmi, text }: OriginCandidate): string {
  return `${spn}/${fmi} ${text}`;
}

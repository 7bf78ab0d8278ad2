/** Every sample of a machine over some days, a day a request. */

import type { Problem } from '@warmbrick/contracts';
import type { Fetched } from '../api/call.js';

const dayMs = 86_400_000;
/** A day of samples that has not come by then does not come. */
const timeoutMs = 60_000;

/** Missing: null when it was called off. Errors: a problem, the server's own where it sent one. */
export async function fetchColumns(
  machineId: string,
  span: { readonly fromMs: number; readonly toMs: number },
  onProgress: (done: number, days: number) => void,
  signal: AbortSignal,
): Promise<Fetched<Uint8Array<ArrayBuffer>[]> | null> {
  const days = Math.max(1, Math.ceil((span.toMs - span.fromMs) / dayMs));
  const body: Uint8Array<ArrayBuffer>[] = [];
  onProgress(0, days);
  try {
    for (let day = 0; day < days; day++) {
      const from = new Date(span.fromMs + day * dayMs).toISOString();
      const to = new Date(Math.min(span.toMs, span.fromMs + (day + 1) * dayMs)).toISOString();
      const path = `/v1/machines/${encodeURIComponent(machineId)}/sample-columns?${new URLSearchParams({ from, to })}`;
      const answer = await fetch(path, { signal: AbortSignal.any([signal, AbortSignal.timeout(timeoutMs)]) });
      if (!answer.ok) return { ok: false, problem: (await answer.json()) as Problem };
      body.push(new Uint8Array(await answer.arrayBuffer()));
      onProgress(day + 1, days);
    }
    return { ok: true, body };
  } catch {
    return signal.aborted ? null : { ok: false, problem: unreachable };
  }
}

const unreachable: Problem = {
  type: 'about:blank',
  title: 'The samples do not come',
  status: 0,
  code: 'unreachable',
  detail: 'The service does not answer, or the connection is too slow. Try fewer days.',
};

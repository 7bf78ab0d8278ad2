/** A small HTTP server for whoever watches the process: is it alive, is it at work, what does it count. */

import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { type Metrics, OperatingError } from '@warmbrick/runtime';

export interface HealthOptions {
  readonly host: string;
  /** 0 for any free one. */
  readonly port: number;
  readonly metrics: Metrics;
  /** Why it is not ready, or null. */
  readonly whyNotReady: () => Promise<string | null>;
}

/** Starts it. Errors: OperatingError `port-in-use`, `port-not-allowed`. */
export async function startHealthServer(options: HealthOptions): Promise<{ port: number; stop(): Promise<void> }> {
  const { host, port, metrics, whyNotReady } = options;
  const server = createServer(async ({ url }, response) => {
    const answer = (status: number, body: string, type = 'text/plain; charset=utf-8') =>
      response.writeHead(status, { 'content-type': type, 'cache-control': 'no-store' }).end(body);
    if (url === '/healthz') return answer(200, 'alive\n');
    if (url === '/readyz') {
      const reason = await whyNotReady();
      return answer(reason === null ? 200 : 503, `${reason ?? 'ready'}\n`);
    }
    if (url !== '/metrics') return answer(404, 'There is /metrics, /healthz and /readyz.\n');
    const { contentType, body } = await metrics.expose();
    return answer(200, body, contentType);
  });
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(listenError(error, host, port)));
    server.listen(port, host, resolve);
  });
  return {
    port: (server.address() as AddressInfo).port,
    async stop() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

function listenError(error: NodeJS.ErrnoException, host: string, port: number): Error {
  const code = { EADDRINUSE: 'port-in-use', EACCES: 'port-not-allowed' }[error.code ?? ''];
  if (code === undefined) return error;
  return new OperatingError(`Port ${port} of ${host} cannot be used.`, {
    code,
    remedy: 'Choose another one in WARMBRICK_METRICS_PORT.',
    cause: error,
  });
}

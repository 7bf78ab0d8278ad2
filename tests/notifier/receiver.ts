/** A receiver of webhooks on loopback that remembers what came, by id. */

import { createServer, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';

export interface Receiver {
  readonly url: string;
  /** Bodies by message id, in order of first arrival; every body that came for an id is there once. */
  readonly bodies: ReadonlyMap<string, ReadonlySet<string>>;
  /** How it answers; by default with 200. */
  answer: (response: ServerResponse, id: string) => void;
  close(): Promise<void>;
}

export async function startReceiver(): Promise<Receiver> {
  const bodies = new Map<string, Set<string>>();
  const server = createServer(async (request, response) => {
    let body = '';
    for await (const part of request.setEncoding('utf8')) body += part;
    const id = String(request.headers['webhook-id']);
    bodies.set(id, (bodies.get(id) ?? new Set()).add(body));
    receiver.answer(response, id);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const receiver: Receiver = {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/`,
    bodies,
    answer: (response) => response.writeHead(200).end(),
    async close() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
  return receiver;
}

import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Webhook } from 'standardwebhooks';
import { afterEach, describe, expect, it } from 'vitest';
import { addressGuard } from '../../services/notifier/src/webhook/address-guard.js';
import { postWebhook } from '../../services/notifier/src/webhook/post-webhook.js';
import { newWebhookSecret, webhookHeaders } from '../../services/notifier/src/webhook/sign-webhook.js';

const closing: (() => void)[] = [];
afterEach(() => {
  for (const close of closing.splice(0)) close();
});

async function receiver(answer: (request: IncomingMessage, response: ServerResponse) => void) {
  const server = createServer(answer);
  closing.push(() => {
    server.closeAllConnections();
    server.close();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}/hook`;
}

const loopback = addressGuard(['127.0.0.0/8']);
const post = (url: string, isAllowed = loopback, timeoutMs = 2000) =>
  postWebhook({ url, headers: { 'Content-Type': 'application/json' }, body: '{"a":1}' }, isAllowed, {
    timeoutMs,
    answerBytes: 1000,
  });

describe('one call of a webhook', () => {
  it('sends the body as it is and takes any 2xx for a yes', async () => {
    let got = '';
    const url = await receiver(async (request, response) => {
      for await (const part of request) got += part;
      response.writeHead(204).end();
    });
    expect(await post(url)).toEqual({ result: 'taken', status: '204', detail: '', retryAfterMs: null });
    expect(got).toBe('{"a":1}');
  });

  it('is to be tried again after 500 and 429, and when the receiver says so', async () => {
    const url = await receiver((_, response) => response.writeHead(500).end('broken'));
    expect(await post(url)).toMatchObject({ result: 'failed', status: '500', detail: 'broken', retryAfterMs: null });
    const busy = await receiver((_, response) => response.writeHead(429, { 'Retry-After': '7' }).end());
    expect(await post(busy)).toMatchObject({ result: 'failed', status: '429', retryAfterMs: 7000 });
    const greedy = await receiver((_, response) => response.writeHead(503, { 'Retry-After': '99999999' }).end());
    expect(await post(greedy)).toMatchObject({ retryAfterMs: 3_600_000 });
  });

  it('is over for good after 410', async () => {
    const url = await receiver((_, response) => response.writeHead(410).end());
    expect(await post(url)).toMatchObject({ result: 'refused', status: '410' });
  });

  it('follows no redirect, least of all to loopback', async () => {
    let inner = 0;
    const inside = await receiver((_, response) => {
      inner++;
      response.end();
    });
    const url = await receiver((_, response) => response.writeHead(302, { Location: inside }).end());
    expect(await post(url)).toMatchObject({ result: 'failed', status: '302' });
    expect(inner).toBe(0);
  });

  it('does not connect to loopback unless that is allowed, by number or by name', async () => {
    let calls = 0;
    const url = await receiver((_, response) => {
      calls++;
      response.end();
    });
    const nobody = addressGuard([]);
    expect(await post(url, nobody)).toMatchObject({ result: 'refused', status: 'forbidden-address' });
    expect(await post(url.replace('127.0.0.1', 'localhost'), nobody)).toMatchObject({
      result: 'refused',
      status: 'forbidden-address',
    });
    expect(await post('file:///etc/hostname', nobody)).toMatchObject({ result: 'refused' });
    expect(await post('no address', nobody)).toMatchObject({ result: 'refused' });
    expect(calls).toBe(0);
  });

  it('gives up on a receiver that hangs, before or in the middle of the answer', async () => {
    const mute = await receiver(() => {});
    expect(await post(mute, loopback, 200)).toMatchObject({ result: 'failed', detail: 'no whole answer in time' });
    const half = await receiver((_, response) => {
      response.writeHead(200);
      response.write('x');
    });
    expect(await post(half, loopback, 200)).toMatchObject({ result: 'failed' });
    const dripping = await receiver((_, response) => {
      response.writeHead(200);
      const timer = setInterval(() => response.write('x'), 20);
      response.on('close', () => clearInterval(timer));
    });
    expect(await post(dripping, loopback, 300)).toMatchObject({ result: 'failed' });
  });

  it('reads little of an answer of 2 GB', async () => {
    let sent = 0;
    const url = await receiver((_, response) => {
      const piece = Buffer.alloc(64 * 1024, 'x');
      response.writeHead(200, { 'Content-Length': String(2 * 1024 ** 3) });
      const more = () => {
        while (!response.destroyed && sent < 2 * 1024 ** 3) {
          sent += piece.length;
          if (!response.write(piece)) return void response.once('drain', more);
        }
      };
      more();
    });
    const outcome = await post(url);
    expect(outcome).toMatchObject({ result: 'taken', status: '200' });
    expect(outcome.detail.length).toBeLessThanOrEqual(500);
    expect(sent).toBeLessThan(64 * 1024 ** 2);
  });

  it('is told from a receiver that cuts the connection or is not there', async () => {
    const rude = await receiver((request) => request.socket.destroy());
    expect(await post(rude)).toMatchObject({ result: 'failed', status: 'ECONNRESET' });
    const gone = await receiver(() => {});
    for (const close of closing.splice(0)) close();
    expect(await post(gone)).toMatchObject({ result: 'failed', status: 'ECONNREFUSED' });
  });
});

describe('the signature', () => {
  it('is that of the published example', () => {
    // Source: Standard Webhooks specification, test values of its reference libraries, from memory.
    const headers = webhookHeaders(['whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw'], {
      id: 'msg_p5jXN8AQM9LWM0D4loKWxJek',
      atMs: 1_614_265_330_000,
      body: '{"test": 2432232314}',
    });
    expect(headers['webhook-signature']).toBe('v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=');
    expect(headers['webhook-timestamp']).toBe('1614265330');
  });

  it('is verified with either of two live secrets and with no other', () => {
    const [fresh, old, other] = [newWebhookSecret(), newWebhookSecret(), newWebhookSecret()] as const;
    const body = '{"specversion":"1.0"}';
    const headers = webhookHeaders([fresh, old], { id: 'msg_1', atMs: Date.now(), body });
    expect(new Webhook(fresh).verify(body, headers)).toEqual({ specversion: '1.0' });
    expect(new Webhook(old).verify(body, headers)).toEqual({ specversion: '1.0' });
    expect(() => new Webhook(other).verify(body, headers)).toThrow();
    expect(() => new Webhook(fresh).verify(`${body} `, headers)).toThrow();
  });
});

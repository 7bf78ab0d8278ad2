/** Sending mail over SMTP. */

import { createTransport } from 'nodemailer';
import type { CallOutcome } from '../webhook/post-webhook.js';
import type { RenderedMail } from './render-mail.js';

export interface MailSettings {
  /** smtp:// or smtps:// with user and password where the server asks for them. */
  readonly url: string;
  readonly from: string;
  /** Right-hand side of message ids. */
  readonly host: string;
}

interface MailToSend extends RenderedMail {
  readonly to: string;
  readonly id: string;
  /** Name of the thread; null for a mail that stands by itself. */
  readonly thread: string | null;
}

export interface MailSender {
  send(mail: MailToSend): Promise<CallOutcome>;
  close(): void;
}

/** Longest waits of one mail, ms. Source: engineering judgement; RFC 5321, 4.5.3.2 allows minutes, which would hold up others. */
const connectMs = 10_000;
const silenceMs = 20_000;

/** Opens the way to the server; it connects when the first mail is sent. */
export function createMailSender({ url, from, host }: MailSettings): MailSender {
  const transport = createTransport(
    {
      url,
      pool: true,
      maxConnections: 2,
      connectionTimeout: connectMs,
      greetingTimeout: connectMs,
      socketTimeout: silenceMs,
    },
    { from },
  );
  const address = (id: string) => `<${id}@${host}>`;
  return {
    async send({ to, id, thread, subject, text, html }) {
      try {
        const sent = await transport.sendMail({
          to: to.split(',').map((part) => part.trim()),
          subject,
          text,
          html,
          messageId: address(id),
          headers: { 'Auto-Submitted': 'auto-generated' },
          ...(thread === null ? {} : { references: [address(thread)], inReplyTo: address(thread) }),
          disableFileAccess: true,
          disableUrlAccess: true,
        });
        return { result: 'taken', status: '250', detail: String(sent.response).slice(0, 500), retryAfterMs: null };
      } catch (error) {
        return failure(error as Error & { code?: string; responseCode?: number });
      }
    },
    close: () => transport.close(),
  };
}

/** Codes of 500 and above are final, all else may pass. Source: RFC 5321, 4.2.1. */
function failure(error: Error & { code?: string; responseCode?: number }): CallOutcome {
  const isFinal = error.responseCode !== undefined && error.responseCode >= 500 && error.responseCode !== 535;
  return {
    result: isFinal ? 'refused' : 'failed',
    status: String(error.responseCode ?? error.code ?? 'error'),
    detail: error.message.slice(0, 500),
    retryAfterMs: null,
  };
}

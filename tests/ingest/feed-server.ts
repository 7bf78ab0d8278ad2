/** A provider of a standard feed on loopback, as ISO/TS 15143-3 describes one by its public element names. */

import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';

export interface FeedServer {
  readonly baseUrl: string;
  /** Paths asked for, in order, and their headers. */
  readonly asked: { readonly path: string; readonly headers: IncomingMessage['headers'] }[];
  /** Answers a path; `null` is 404. */
  answer: (path: string, request: IncomingMessage) => Reply | null;
  close(): Promise<void>;
}

export interface Reply {
  readonly status?: number;
  readonly headers?: Record<string, string>;
  readonly body?: string | Uint8Array;
  /** Sends the head and then nothing more. */
  readonly hangs?: boolean;
  /** Closes the connection without an answer. */
  readonly breaks?: boolean;
}

export async function startFeedServer(): Promise<FeedServer> {
  const asked: FeedServer['asked'] = [];
  const server: Server = createServer((request, response) => {
    const path = request.url ?? '';
    asked.push({ path, headers: request.headers });
    reply(feed.answer(path, request) ?? { status: 404 }, request, response);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const feed: FeedServer = {
    baseUrl: `http://127.0.0.1:${(server.address() as AddressInfo).port}/feed`,
    asked,
    answer: () => null,
    async close() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
  return feed;
}

function reply(given: Reply, request: IncomingMessage, response: ServerResponse): void {
  if (given.breaks === true) return void request.socket.destroy();
  response.writeHead(given.status ?? 200, { 'content-type': 'application/xml', ...given.headers });
  if (given.hangs === true) response.write(' ');
  else response.end(given.body);
}

/** Source: the two editions' name spaces, as the project's domain notes found them in public files. */
export const nameSpaces = {
  edition2016: 'http://standards.iso.org/iso/15143/-3',
  edition2020: 'http://www.jcmanet.or.jp/english2017/ISO/15143/-3/20190501',
} as const;

export interface FleetOptions {
  readonly machines: readonly string[];
  readonly nextUrl?: string | undefined;
  readonly nameSpace?: string;
  readonly prefix?: string;
}

/** A page of the snapshot with one invented machine after the other. */
export function fleetXml({ machines, nextUrl, nameSpace = nameSpaces.edition2020, prefix = '' }: FleetOptions): string {
  const p = prefix === '' ? '' : `${prefix}:`;
  const xmlns = prefix === '' ? 'xmlns' : `xmlns:${prefix}`;
  const el = (name: string, body: string, attributes = '') => `<${p}${name}${attributes}>${body}</${p}${name}>`;
  const at = (time: string) => ` datetime="${time}"`;
  const equipment = machines.map((id) =>
    el(
      'Equipment',
      el(
        'EquipmentHeader',
        el('OEMName', 'Invented Works') + el('Model', 'L 100') + el('EquipmentID', id) + el('SerialNumber', `00${id}`),
      ) +
        el('Location', el('Latitude', '61.5') + el('Longitude', '10.1'), at('2026-03-10T05:00:00Z')) +
        el('CumulativeOperatingHours', el('Hour', '1234.5'), at('2026-03-10T05:00:00Z')) +
        el('CumulativeIdleHours', el('Hour', '400.25'), at('2026-03-10T05:00:00Z')) +
        el('FuelUsed', el('FuelUnits', 'litre') + el('FuelConsumed', '20000'), at('2026-03-10T05:10:00Z')) +
        el(
          'DEFRemaining',
          el('Percent', '62') + el('DEFTankCapacityUnits', 'litre') + el('DEFTankCapacity', '40'),
          at('2026-03-10T05:20:00Z'),
        ) +
        el('EngineStatus', el('EngineNumber', '1') + el('Running', 'false'), at('2026-03-10T05:30:00Z')),
    ),
  );
  const link =
    nextUrl === undefined ? '' : el('Links', el('rel', 'next') + el('href', nextUrl.replaceAll('&', '&amp;')));
  const self = el('Links', el('rel', 'self') + el('href', '/somewhere'));
  return `<?xml version="1.0" encoding="utf-8"?>\n${el('Fleet', self + link + equipment.join(''), ` ${xmlns}="${nameSpace}" version="1" snapshotTime="2026-03-10T06:00:00Z"`)}`;
}

/** A page of the time series of faults. Source of the names: from memory. */
export function faultsXml(
  codes: readonly { readonly time: string; readonly id: string; readonly more?: string }[],
  nextUrl?: string,
): string {
  const link = nextUrl === undefined ? '' : `<Links><rel>next</rel><href>${nextUrl}</href></Links>`;
  const list = codes.map(
    ({ time, id, more = '' }) =>
      `<FaultCode datetime="${time}"><CodeIdentifier>${id}</CodeIdentifier>${more}</FaultCode>`,
  );
  return `<FaultMessages xmlns="${nameSpaces.edition2016}" version="1">${link}${list.join('')}</FaultMessages>`;
}

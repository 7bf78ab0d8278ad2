/** Sends a series in the form that the client asks for: JSON, CSV or Parquet. */

import { type SeriesFormat, seriesFormats, seriesMediaTypes } from '@warmbrick/contracts';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Table } from './table.js';
import { toCsv } from './to-csv.js';
import { toParquet } from './to-parquet.js';

/** The answers of a route that gives a series, for the description. */
export function seriesResponse(schema: z.ZodType) {
  return {
    description: 'The series, as JSON, CSV or Parquet.',
    content: {
      [seriesMediaTypes.json]: { schema },
      [seriesMediaTypes.csv]: { schema: z.string() },
      [seriesMediaTypes.parquet]: { schema: z.string().meta({ format: 'binary' }) },
    },
  };
}

/** The form that is wanted: by the query, else by the header, else JSON. */
export function wantedFormat(request: FastifyRequest, asked: SeriesFormat | undefined): SeriesFormat {
  if (asked !== undefined) return asked;
  const accepted = (request.headers.accept ?? '').split(',').map((piece) => piece.split(';', 1)[0]?.trim());
  return seriesFormats.find((format) => accepted.includes(seriesMediaTypes[format])) ?? 'json';
}

/** Sends a table as a file of the name. */
export function sendTable(
  reply: FastifyReply,
  format: Exclude<SeriesFormat, 'json'>,
  file: { name: string; table: Table },
) {
  const { name, table } = file;
  const safe = name.replaceAll(/[^\w.-]+/g, '_').slice(0, 100);
  reply.header('Content-Disposition', `attachment; filename="${safe}.${format}"`);
  reply.type(format === 'csv' ? `${seriesMediaTypes.csv}; charset=utf-8; header=present` : seriesMediaTypes.parquet);
  return reply
    .serializer((body: unknown) => body as string)
    .send(format === 'csv' ? toCsv(table) : Buffer.from(toParquet(table)));
}

/** Scores day by day, runs, archived days, profiles, and the forms that series come in. */

import { machineProfileSchema } from '@warmbrick/signals';
import { z } from 'zod';
import { fleetIdSchema } from './http-access.js';
import { findingSchema, instantSchema } from './replay-document.js';

/** Forms of a series; `Accept` chooses as well. */
export const seriesFormats = ['json', 'csv', 'parquet'] as const;
export type SeriesFormat = (typeof seriesFormats)[number];

/** Media types of the forms. Source: RFC 4180; IANA, application/vnd.apache.parquet. */
export const seriesMediaTypes: Readonly<Record<SeriesFormat, string>> = {
  json: 'application/json',
  csv: 'text/csv',
  parquet: 'application/vnd.apache.parquet',
};

export const formatQuery = z
  .enum(seriesFormats)
  .optional()
  .meta({ description: 'Form of the answer; without it as the header Accept says, else JSON.' });

const instant = z.iso.datetime({ offset: true });
const limit = (most: number, usual: number) => z.coerce.number().int().min(1).max(most).default(usual);

export const scoreQuerySchema = z.strictObject({
  from: instant.optional(),
  to: instant.optional(),
  format: formatQuery,
});

export const scoreSeriesSchema = z
  .object({
    items: z.array(
      z.object({
        day: z.iso.date().meta({ description: 'UTC day.' }),
        at: instantSchema.meta({ description: "The day's last sample." }),
        value: z.number(),
        confidence: z.number(),
        parts: z.record(z.string(), z.number()),
        thresholdSet: z.string(),
      }),
    ),
  })
  .meta({ id: 'ScoreSeries', description: 'How the score went, by UTC day; a day without a score is left out.' });

export const runQuerySchema = z.strictObject({
  limit: limit(500, 100),
  cursor: z.string().max(300).optional(),
  from: instant.optional(),
  to: instant.optional(),
});

export const archivedDayListSchema = z
  .object({
    items: z.array(z.object({ day: z.iso.date(), from: instantSchema, to: instantSchema, samples: z.number().int() })),
    nextCursor: z.string().nullable(),
  })
  .meta({ id: 'ArchivedDays' });

export const archiveQuerySchema = z.strictObject({ limit: limit(400, 62), cursor: z.string().max(300).optional() });

export const recordingQuerySchema = z.strictObject({ format: z.enum(['csv', 'parquet']).default('csv') });

export const profileDocumentSchema = z
  .object({ machineId: z.string(), fleetId: fleetIdSchema, profile: machineProfileSchema })
  .meta({ id: 'ProfileDocument' });

export const allFindingsQuerySchema = z.strictObject({
  limit: limit(500, 100),
  cursor: z.string().max(300).optional(),
  machineId: z.string().max(120).optional(),
  fleet: fleetIdSchema.optional(),
  kind: z.string().max(1000).optional().meta({ description: 'One kind, or several with commas between.' }),
  severity: z.string().max(100).optional().meta({ description: 'One severity, or several with commas between.' }),
  from: instant.optional(),
  to: instant.optional(),
});

export const runListSchema = z
  .object({ items: z.array(findingSchema), nextCursor: z.string().nullable() })
  .meta({ id: 'RunList', description: 'Runs of the engine; how long, how far and how warm stands in the values.' });

export type ScoreSeries = z.output<typeof scoreSeriesSchema>;
export type ProfileDocument = z.output<typeof profileDocumentSchema>;

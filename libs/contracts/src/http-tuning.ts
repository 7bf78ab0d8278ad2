/** Bodies of /v1/threshold-sets, /v1/set-promotions and /v1/trials. */

import { thresholdNames, thresholdSetSchema } from '@warmbrick/analysis';
import { promotionScopes } from '@warmbrick/tuning';
import { z } from 'zod';
import { comparisonDocumentSchema } from './comparison-document.js';
import { instantSchema } from './replay-document.js';

const versionSchema = thresholdSetSchema.shape.version.unwrap().regex(/^[A-Za-z0-9][A-Za-z0-9._-]*$/);
const reasonSchema = z.string().trim().min(3).max(500);
const valuesSchema = z.record(z.enum(thresholdNames), z.number());

export const newThresholdSetSchema = z
  .strictObject({
    version: versionSchema,
    /** What is not named has its default. */
    values: z.partialRecord(z.enum(thresholdNames), z.number()),
    reason: reasonSchema,
    trialId: z.string().max(80).nullable().default(null),
    needsApproval: z.boolean().default(false),
  })
  .meta({ id: 'NewThresholdSet' });

export const thresholdSetDocumentSchema = z
  .object({
    version: z.string(),
    values: valuesSchema,
    author: z.string(),
    reason: z.string(),
    trialId: z.string().nullable(),
    needsApproval: z.boolean(),
    approvedBy: z.string().nullable(),
    createdAt: instantSchema.nullable(),
  })
  .meta({ id: 'ThresholdSet' });

export const thresholdSetListSchema = z.object({ items: z.array(thresholdSetDocumentSchema) });

const scopeSchema = z
  .strictObject({ kind: z.enum(promotionScopes), name: z.string().min(1).max(120).nullable() })
  .refine(({ kind, name }) => (kind === 'all') === (name === null), {
    message: 'a fleet, a class or a machine has a name, "all" has none',
    path: ['name'],
  });

export const newPromotionSchema = z
  .strictObject({
    version: versionSchema,
    scope: scopeSchema,
    /** Machine time from which on it judges. Default: as soon as every member can know of it. */
    from: z.iso.datetime({ offset: true }).optional(),
    /** Whether what was before now is judged anew; needed for a time that has passed. */
    recompute: z.boolean().default(false),
    reason: reasonSchema,
  })
  .meta({ id: 'NewSetPromotion' });

export const rollbackSchema = z
  .strictObject({ recompute: z.boolean().default(false), reason: reasonSchema })
  .meta({ id: 'SetRollback' });

export const promotionDocumentSchema = z
  .object({
    id: z.number().int(),
    /** null: from then on no set is promoted here. */
    version: z.string().nullable(),
    scope: z.object({ kind: z.enum(promotionScopes), name: z.string().nullable() }),
    from: instantSchema,
    isRecomputed: z.boolean(),
    /** Machines analysed anew for it so far; each is when it next sends. */
    recomputedMachines: z.number().int(),
    author: z.string(),
    reason: z.string(),
    createdAt: instantSchema,
  })
  .meta({ id: 'SetPromotion' });

export const promotionListSchema = z.object({ items: z.array(promotionDocumentSchema) });

export const newTrialSchema = z
  .strictObject({ title: z.string().trim().min(3).max(120), document: comparisonDocumentSchema })
  .meta({ id: 'NewTrial' });

const trialHeadSchema = z.object({
  trialId: z.string(),
  title: z.string(),
  author: z.string(),
  createdAt: instantSchema,
});
export const trialListSchema = z.object({ items: z.array(trialHeadSchema) });
/** A trial of the workbench may be the document of a search; it is given as it was kept. */
export const trialSchema = trialHeadSchema.extend({ document: z.unknown() }).meta({ id: 'Trial' });

export type ThresholdSetDocument = z.output<typeof thresholdSetDocumentSchema>;
export type PromotionDocument = z.output<typeof promotionDocumentSchema>;

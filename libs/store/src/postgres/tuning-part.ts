/** The part of the store that knows threshold sets, trials and promotions. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { PromotionScope } from '@warmbrick/tuning';
import type {
  NewPromotion,
  NewThresholdSet,
  StoredPromotion,
  StoredThresholdSet,
  StoredTrial,
  TuningStore,
} from '../tuning-store.js';
import type { Database, Row } from './database.js';
import { nowSql } from './outbox.js';

/** Entries of a list at most. Source: engineering judgement: sets are made by hand. */
const mostListed = 1000;

const setColumns = 'version, body, author, reason, trial_id, needs_approval, created, approved_by, approved';
const promotionColumns =
  'id, version, scope_kind, scope_name, started, is_recomputed, author, reason, created, ' +
  '(SELECT count(*)::int4 FROM machine_recompute r WHERE p.is_recomputed AND r.promotion_id >= p.id) AS recomputed';

/** Binds the part to a database. */
export function tuningPart(database: Database): TuningStore {
  return { ...setsPart(database), ...trialsPart(database), ...promotionsPart(database) };
}

type SetsPart = Pick<TuningStore, 'addThresholdSet' | 'getThresholdSet' | 'listThresholdSets' | 'approveThresholdSet'>;

function setsPart(database: Database): SetsPart {
  const get = async (version: string) => {
    const { rows } = await database.query({
      text: `SELECT ${setColumns} FROM threshold_set WHERE version = $1`,
      values: [version],
    });
    return rows[0] === undefined ? null : toSet(rows[0]);
  };
  return {
    getThresholdSet: get,
    async addThresholdSet({ set, author, reason, trialId, needsApproval }: NewThresholdSet) {
      const { rowCount } = await database.query({
        text: `INSERT INTO threshold_set (version, body, author, reason, trial_id, needs_approval, created)
          VALUES ($1, $2, $3, $4, $5, $6, ${nowSql}) ON CONFLICT DO NOTHING`,
        values: [set.version, JSON.stringify(set.values), author, reason, trialId, needsApproval],
      });
      return rowCount === 1;
    },
    async listThresholdSets() {
      const { rows } = await database.query({
        text: `SELECT ${setColumns} FROM threshold_set ORDER BY created DESC, version LIMIT ${mostListed}`,
      });
      return rows.map(toSet);
    },
    async approveThresholdSet(version, by) {
      const { rowCount } = await database.query({
        text: `UPDATE threshold_set SET approved_by = coalesce(approved_by, $2), approved = coalesce(approved, ${nowSql})
          WHERE version = $1 AND author <> $2`,
        values: [version, by],
      });
      if (rowCount === 1) return 'approved';
      return (await get(version)) === null ? 'unknown' : 'own-set';
    },
  };
}

function trialsPart(database: Database): Pick<TuningStore, 'addTrial' | 'getTrial' | 'listTrials'> {
  return {
    async addTrial({ trialId, title, author, document }) {
      await database.query({
        text: `INSERT INTO trial (trial_id, title, author, document, created) VALUES ($1, $2, $3, $4, ${nowSql})
          ON CONFLICT DO NOTHING`,
        values: [trialId, title, author, document],
      });
    },
    async getTrial(trialId) {
      const { rows } = await database.query({
        text: 'SELECT trial_id, title, author, created, document FROM trial WHERE trial_id = $1',
        values: [trialId],
      });
      const [row] = rows;
      return row === undefined ? null : { ...toTrial(row), document: row.document };
    },
    async listTrials() {
      const { rows } = await database.query({
        text: `SELECT trial_id, title, author, created FROM trial ORDER BY created DESC, trial_id LIMIT ${mostListed}`,
      });
      return rows.map(toTrial);
    },
  };
}

type PromotionsPart = Pick<
  TuningStore,
  'addPromotion' | 'listPromotions' | 'lastPromotion' | 'recomputedUpTo' | 'markRecomputed'
>;

function promotionsPart(database: Database): PromotionsPart {
  return {
    async addPromotion({ version, scope, fromMs, isRecomputed, author, reason }: NewPromotion) {
      const { rows } = await database.query({
        text: `INSERT INTO set_promotion AS p (version, scope_kind, scope_name, started, is_recomputed, author, reason, created)
          VALUES ($1, $2, $3, $4, $5, $6, $7, ${nowSql}) RETURNING ${promotionColumns}`,
        values: [version, scope.kind, scope.name, Math.floor(fromMs), isRecomputed, author, reason],
      });
      return toPromotion(rows[0] as Row);
    },
    async listPromotions() {
      const { rows } = await database.query({
        text: `SELECT ${promotionColumns} FROM set_promotion p ORDER BY id LIMIT ${10 * mostListed}`,
      });
      return rows.map(toPromotion);
    },
    async lastPromotion() {
      const { rows } = await database.query({
        name: 'last-promotion',
        text: 'SELECT coalesce(max(id), 0)::int8 AS id FROM set_promotion',
      });
      return rows[0]?.id ?? 0;
    },
    async recomputedUpTo(machineId) {
      const { rows } = await database.query({
        name: 'recomputed-up-to',
        text: 'SELECT promotion_id FROM machine_recompute WHERE machine_id = $1',
        values: [machineId],
      });
      return rows[0]?.promotion_id ?? 0;
    },
    async markRecomputed(machineId, promotionId) {
      await database.query({
        text: `INSERT INTO machine_recompute (machine_id, promotion_id) VALUES ($1, $2)
          ON CONFLICT (machine_id) DO UPDATE SET promotion_id = greatest(machine_recompute.promotion_id, $2)`,
        values: [machineId, promotionId],
      });
    },
  };
}

function toSet(row: Row): StoredThresholdSet {
  return {
    set: { version: row.version, values: row.body as ThresholdSet['values'] },
    author: row.author,
    reason: row.reason,
    trialId: row.trial_id,
    needsApproval: row.needs_approval,
    createdMs: row.created,
    approvedBy: row.approved_by,
    approvedMs: row.approved,
  };
}

function toTrial(row: Row): Omit<StoredTrial, 'document'> {
  return { trialId: row.trial_id, title: row.title, author: row.author, createdMs: row.created };
}

function toPromotion(row: Row): StoredPromotion {
  return {
    id: row.id,
    version: row.version,
    scope: { kind: row.scope_kind as PromotionScope['kind'], name: row.scope_name },
    fromMs: row.started,
    isRecomputed: row.is_recomputed,
    author: row.author,
    reason: row.reason,
    createdMs: row.created,
    recomputedMachines: row.recomputed,
  };
}

/** The protocol by which members of a group write to one store, as a model: every interleaving that a scheduler finds. */

import { fc } from '@fast-check/vitest';
import { describe, expect, it } from 'vitest';

interface Rules {
  /** A writer whose claim is not the newest writes nothing. */
  readonly checksEpoch: boolean;
  /** A writer that starts from another offset than the store's writes nothing. */
  readonly checksExpected: boolean;
}

interface Claim {
  readonly nextOffset: number;
  readonly epoch: number;
}

/** One partition's row in the store, and what was written with it; each method is one transaction. */
class PositionTable {
  nextOffset = 0;
  epoch = 0;
  readonly written: number[] = [];
  fenced = 0;
  readonly #rules: Rules;

  constructor(rules: Rules) {
    this.#rules = rules;
  }

  claim(): Claim {
    this.epoch++;
    return { nextOffset: this.nextOffset, epoch: this.epoch };
  }

  /** False when the writer is fenced. */
  commit(claim: Claim, batch: readonly number[]): boolean {
    const isOld = this.#rules.checksEpoch && claim.epoch !== this.epoch;
    if (isOld || (this.#rules.checksExpected && claim.nextOffset !== this.nextOffset)) {
      this.fenced++;
      return false;
    }
    this.written.push(...batch);
    this.nextOffset = claim.nextOffset + batch.length;
    return true;
  }
}

/** Says who owns the partition; members learn it by heartbeats alone, so a slow one goes on as a zombie. */
class Group {
  owner = 0;
}

const logLength = 6;
const batchLength = 2;
const memberCount = 3;
/** Rounds that a member takes at most, so that a model in which they drive each other out ends. */
const mostRounds = 60;

interface World {
  readonly table: PositionTable;
  readonly group: Group;
  readonly scheduler: fc.Scheduler;
  /** Whether the answer to the n-th commit is lost on the way back. */
  readonly isAnswerLost: (n: number) => boolean;
  commits: number;
}

/** An await is a place where anything may happen, and where a member may be frozen for as long as the scheduler likes. */
function step<T>({ scheduler }: World, label: string, act: () => T): Promise<T> {
  return scheduler.schedule(Promise.resolve(), label).then(act);
}

async function runMember(world: World, member: number): Promise<void> {
  let claim: Claim | null = null;
  for (let round = 0; round < mostRounds && world.table.nextOffset < logLength; round++) {
    const isOwner = await step(world, `${member} heartbeat`, () => world.group.owner === member);
    if (!isOwner) {
      claim = null;
      continue;
    }
    claim ??= await step(world, `${member} claims`, () => world.table.claim());
    const batch = fetchFrom(claim.nextOffset);
    if (batch.length === 0) return;
    const mine: Claim = claim;
    await step(world, `${member} computes ${batch}`, () => {});
    const answer = await step(world, `${member} commits ${batch}`, () => {
      const isDone = world.table.commit(mine, batch);
      return world.isAnswerLost(world.commits++) ? 'lost' : isDone ? 'done' : 'fenced';
    });
    if (answer === 'done') claim = { ...mine, nextOffset: mine.nextOffset + batch.length };
    else if (answer === 'fenced') claim = null;
    // A lost answer: the same batch again, under the same claim.
  }
}

function fetchFrom(offset: number): number[] {
  return Array.from({ length: Math.min(batchLength, logLength - offset) }, (_, i) => offset + i);
}

/** Moves the partition from member to member at times of the scheduler's choice, and last to one that may finish. */
async function rebalance(world: World, owners: readonly number[]): Promise<void> {
  for (const owner of owners) {
    await step(world, `group: ${owner} owns`, () => {
      world.group.owner = owner;
    });
  }
}

/** How often a writer was fenced in all runs: a model without zombies would prove nothing. */
let fencedInAll = 0;

function modelOf(rules: Rules, { answersGetLost }: { answersGetLost: boolean }) {
  const someOwners = fc.array(fc.nat(memberCount - 1), { minLength: 1, maxLength: 5 });
  const losses = answersGetLost ? fc.array(fc.boolean(), { maxLength: 8 }) : fc.constant([]);
  return fc.asyncProperty(fc.scheduler(), someOwners, losses, async (scheduler, owners, lost) => {
    const isAnswerLost = (n: number) => lost[n] ?? false;
    const world: World = { table: new PositionTable(rules), group: new Group(), scheduler, isAnswerLost, commits: 0 };
    const all = [
      rebalance(world, owners),
      ...Array.from({ length: memberCount }, (_, member) => runMember(world, member)),
    ];
    await scheduler.waitFor(Promise.all(all));
    // Whoever owns it in the end finishes; the others are gone.
    const last = runMember(world, world.group.owner);
    await scheduler.waitFor(last);
    fencedInAll += world.table.fenced;
    expect(world.table.written).toEqual(Array.from({ length: logLength }, (_, offset) => offset));
  });
}

const runs = { numRuns: 1500 };

describe('the claim protocol', () => {
  it('writes each message once and in order, with zombies and lost answers', async () => {
    fencedInAll = 0;
    await fc.assert(modelOf({ checksEpoch: true, checksExpected: true }, { answersGetLost: true }), runs);
    expect(fencedInAll).toBeGreaterThan(100);
  }, 60_000);

  it('holds by the epoch alone while no answer is lost', async () => {
    await fc.assert(modelOf({ checksEpoch: true, checksExpected: false }, { answersGetLost: false }), runs);
  }, 60_000);

  it('writes twice without either check: the model sees the zombie', async () => {
    const outcome = await fc.check(
      modelOf({ checksEpoch: false, checksExpected: false }, { answersGetLost: false }),
      runs,
    );
    expect(outcome.failed).toBe(true);
    expect(String(outcome.errorInstance)).toContain('to deeply equal');
  }, 60_000);

  it('writes twice by the epoch alone when an answer is lost and writing twice is not the same as once', async () => {
    const outcome = await fc.check(
      modelOf({ checksEpoch: true, checksExpected: false }, { answersGetLost: true }),
      runs,
    );
    expect(outcome.failed).toBe(true);
    expect(String(outcome.errorInstance)).toContain('to deeply equal');
  }, 60_000);
});

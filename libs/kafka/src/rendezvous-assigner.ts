/** Who reads which partition: by the highest hash of member and partition, so that few partitions move. */

import { AssignerProtocol, type PartitionAssigner } from 'kafkajs';

export interface Member {
  readonly memberId: string;
  /** Stable over restarts. */
  readonly instanceName: string;
  readonly topics: readonly string[];
}

export interface TopicPartition {
  readonly topic: string;
  readonly partition: number;
}

/** Changed when the rule changes; members with different rules do not join the same group. */
const assignerName = 'warmbrick-rendezvous-1';

/**
 * Shares partitions out among members: each goes to the member with the highest hash that has room; all get the same
 * number, to within one.
 *
 * Shapes: the result has every member, and every partition that anybody subscribed to exactly once.
 * Source: Thaler and Ravishankar, "Using name-based mappings to increase hit rates" (1998), with a bound on the load.
 */
export function assignPartitions(
  members: readonly Member[],
  partitions: readonly TopicPartition[],
): Map<string, TopicPartition[]> {
  const shares = new Map<string, TopicPartition[]>(members.map(({ memberId }) => [memberId, []]));
  const room = Math.ceil(partitions.length / Math.max(1, members.length));
  const sorted = [...partitions].sort((a, b) => compareText(a.topic, b.topic) || a.partition - b.partition);
  for (const partition of sorted) {
    const ranked = members
      .filter(({ topics }) => topics.includes(partition.topic))
      .map((member) => ({ member, weight: weightOf(member.instanceName, partition) }))
      .sort((a, b) => b.weight - a.weight || compareText(a.member.memberId, b.member.memberId));
    const shareOf = (memberId: string) => shares.get(memberId) as TopicPartition[];
    const chosen = ranked.find(({ member }) => shareOf(member.memberId).length < room) ?? ranked[0];
    if (chosen !== undefined) shareOf(chosen.member.memberId).push(partition);
  }
  return shares;
}

/** The assigner for the client; tells the group its own stable name. */
export function createRendezvousAssigner(instanceName: string): PartitionAssigner {
  return ({ cluster }) => ({
    name: assignerName,
    version: 0,
    protocol: ({ topics }) => ({
      name: assignerName,
      metadata: AssignerProtocol.MemberMetadata.encode({ version: 0, topics, userData: Buffer.from(instanceName) }),
    }),
    assign: async ({ members, topics }) => {
      const partitions = topics.flatMap((topic) =>
        cluster.findTopicPartitionMetadata(topic).map(({ partitionId }) => ({ topic, partition: partitionId })),
      );
      const shares = assignPartitions(members.map(readMember), partitions);
      return [...shares].map(([memberId, share]) => ({
        memberId,
        memberAssignment: AssignerProtocol.MemberAssignment.encode({
          version: 0,
          assignment: byTopic(share),
          userData: Buffer.alloc(0),
        }),
      }));
    },
  });
}

function readMember(member: { memberId: string; memberMetadata: Buffer }): Member {
  const metadata = AssignerProtocol.MemberMetadata.decode(member.memberMetadata);
  const instanceName = metadata?.userData?.toString('utf8') ?? '';
  return { memberId: member.memberId, instanceName, topics: metadata?.topics ?? [] };
}

function byTopic(share: readonly TopicPartition[]): Record<string, number[]> {
  const assignment: Record<string, number[]> = {};
  for (const { topic, partition } of share) {
    const partitions = assignment[topic] ?? [];
    partitions.push(partition);
    assignment[topic] = partitions;
  }
  return assignment;
}

/** 32-bit FNV-1a of the text, then stirred: similar names alone differ in few bits. Source: RFC 9923; MurmurHash3, fmix32. */
function weightOf(instanceName: string, { topic, partition }: TopicPartition): number {
  let hash = 0x811c9dc5;
  const text = `${instanceName}\n${topic}\n${partition}`;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  hash = Math.imul(hash ^ (hash >>> 16), 0x85ebca6b);
  hash = Math.imul(hash ^ (hash >>> 13), 0xc2b2ae35);
  return (hash ^ (hash >>> 16)) >>> 0;
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

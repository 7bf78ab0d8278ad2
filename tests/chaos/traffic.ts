/** What the machines of a run send: packets and single samples, shuffled, repeated, and some of it hours late. */

import type { FaultReport, SampleBlock } from '@warmbrick/signals';
import { pieces, simulated } from '../ingest/drive.js';
import type { OutMessage, WorldTopics } from '../integration/ingest-world.js';
import { packetMessage, randomFrom, singleMessages } from '../integration/messages.js';

export interface Traffic {
  readonly machineIds: readonly string[];
  /** Every sample that is sent, once. */
  readonly blocks: ReadonlyMap<string, SampleBlock>;
  readonly faults: readonly FaultReport[];
  /** In the order of sending. */
  readonly lots: readonly (readonly OutMessage[])[];
}

const samplesPerPiece = 60;
/** Places by which what is late comes late; a piece is a minute. */
const lateByPieces = 100;

interface Ranked {
  readonly rank: number;
  readonly messages: readonly OutMessage[];
}

/** Makes the traffic of so many machines; the same seed makes the same. */
export function makeTraffic(names: WorldTopics, machines: number, seed: number): Traffic {
  const random = randomFrom(seed);
  const machineIds = Array.from({ length: machines }, (_, k) => `chaos-${seed}-${k}`);
  const blocks = new Map(machineIds.map((machineId) => [machineId, simulated(machineId)]));
  const faults: FaultReport[] = [];
  const ranked: Ranked[] = [];
  for (const [machineId, block] of blocks) {
    for (const [at, piece] of pieces(block, samplesPerPiece).entries()) {
      const isLate = random() < 0.1;
      const rank = at + random() * 4 + (isLate ? random() * lateByPieces : 0);
      const asSingles = random() < 0.15;
      const messages = asSingles ? singleMessages(names.samples, piece) : [packetMessage(names.samples, piece)];
      ranked.push({ rank, messages });
      if (random() < 0.2) ranked.push({ rank: rank + random() * 20, messages });
      if (at % 10 !== 0) continue;
      const report = faultAt(machineId, piece.timeMs[0] as number, at);
      faults.push(report);
      ranked.push({ rank, messages: [faultMessage(names.faults, report)] });
    }
  }
  ranked.sort((a, b) => a.rank - b.rank);
  return { machineIds, blocks, faults, lots: ranked.map(({ messages }) => messages) };
}

const lamps = { malfunction: 'off', redStop: 'off', amberWarning: 'on', protect: 'off' } as const;

function faultAt(machineId: string, timeMs: number, count: number): FaultReport {
  const code = { spn: 3364, fmi: 2, occurrenceCount: count % 126, conversionMethod: 0 } as const;
  return { machineId, timeMs, sourceAddress: 0, kind: 'active', lamps, flash: 255, codes: [code] };
}

function faultMessage(topic: string, { timeMs, ...report }: FaultReport): OutMessage {
  return { topic, key: report.machineId, value: JSON.stringify({ ...report, time: timeMs }) };
}

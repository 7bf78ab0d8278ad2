/** A page of the fleet snapshot of ISO 15143-3 -> samples and the machines it names. */

import { machineIdPattern } from '@warmbrick/contracts';
import { type ChannelName, createColumn, quantise, type SampleBlock } from '@warmbrick/signals';
import type { RejectList } from '../messages/reject-list.js';
import type { FeedProvider } from './feed-settings.js';
import { feedTimeMs } from './feed-time.js';
import { childOf, type FeedNode, findAll, textOf } from './feed-tree.js';

export interface FeedMachine {
  readonly machineId: string;
  readonly equipmentId: string | null;
  readonly make: string | null;
  readonly model: string | null;
  readonly serialNumber: string | null;
}

export interface FleetPage {
  readonly machines: readonly FeedMachine[];
  readonly blocks: readonly SampleBlock[];
}

/** Litres in a unit of volume. Source: NIST Special Publication 811, B.8; `litre` and `gallon` of the standard from memory. */
const litres: Readonly<Record<string, number>> = {
  litre: 1,
  liter: 1,
  litres: 1,
  liters: 1,
  l: 1,
  gallon: 3.785411784,
  gallons: 3.785411784,
  gal: 3.785411784,
  'us gallon': 3.785411784,
  'imperial gallon': 4.54609,
};

interface Element {
  readonly name: string;
  readonly channel: ChannelName;
  /** The value in the channel's unit; null when it says nothing; a text when it cannot be understood. */
  readonly read: (node: FeedNode) => number | null | { readonly unknownUnit: string };
}

/**
 * Elements taken from the snapshot.
 * Source: ISO/TS 15143-3, 11.4 to 11.x, by the names that open software which follows the 2016 edition uses.
 */
const elements: readonly Element[] = [
  { name: 'CumulativeOperatingHours', channel: 'engineHours', read: (node) => numberOf(node, 'Hour') },
  { name: 'CumulativeIdleHours', channel: 'idleHours', read: (node) => numberOf(node, 'Hour') },
  { name: 'FuelUsed', channel: 'totalFuelL', read: fuelUsedL },
  { name: 'DEFRemaining', channel: 'defLevelPct', read: defLevelPct },
  { name: 'EngineStatus', channel: 'engineSpeedRpm', read: speedOfStanding },
];

/** Reads a page that came at `nowMs`. Errors: none; what cannot be taken is a reject. */
export function readFleet(
  root: FeedNode,
  from: { provider: FeedProvider; nowMs: number; rejects: RejectList },
): FleetPage {
  const machines: FeedMachine[] = [];
  const blocks: SampleBlock[] = [];
  for (const [at, equipment] of findAll(root, 'Equipment').entries()) {
    const machine = nameMachine(equipment, from, at);
    if (machine === null) continue;
    machines.push(machine);
    for (const element of elements) {
      const block = readElement(equipment, element, { ...from, machineId: machine.machineId });
      if (block !== null) blocks.push(block);
    }
  }
  return { machines, blocks };
}

function nameMachine(
  equipment: FeedNode,
  { provider, rejects }: { provider: FeedProvider; rejects: RejectList },
  at: number,
): FeedMachine | null {
  const header = childOf(equipment, 'EquipmentHeader') ?? equipment;
  const equipmentId = textOf(header, 'EquipmentID');
  const serialNumber = textOf(header, 'SerialNumber');
  const names = [equipmentId, serialNumber, textOf(header, 'PIN')].filter((name) => name !== null);
  const listed = names.map((name) => (Object.hasOwn(provider.machines, name) ? provider.machines[name] : undefined));
  const byRule = provider.nameBy === 'equipment-id' ? (equipmentId ?? serialNumber) : (serialNumber ?? equipmentId);
  const known = listed.find((name) => name !== undefined);
  if (known === undefined && !provider.takesUnlisted) return null;
  const machineId = known ?? byRule;
  if (machineId === null || !machineIdPattern.test(machineId)) {
    const detail = machineId === null ? 'it has neither EquipmentID nor SerialNumber' : 'its name is no machine id';
    rejects.add({ reason: 'unnamed-machine', where: `Equipment ${at + 1}`, detail });
    return null;
  }
  const make = textOf(header, 'OEMName');
  return { machineId, equipmentId, serialNumber, make, model: textOf(header, 'Model') };
}

function readElement(
  equipment: FeedNode,
  { name, channel, read }: Element,
  from: { machineId: string; nowMs: number; rejects: RejectList },
): SampleBlock | null {
  const node = childOf(equipment, name);
  if (node === undefined) return null;
  const where = `${from.machineId}, ${name}`;
  const value = read(node);
  if (value === null) return null;
  if (typeof value !== 'number') {
    const detail = `"${value.unknownUnit.slice(0, 40)}" is no unit of volume that is known here`;
    from.rejects.add({ reason: 'unknown-unit', where, detail });
    return null;
  }
  const timeMs = feedTimeMs(node, from.nowMs);
  if (Number.isNaN(timeMs)) {
    const detail = `datetime "${(textOf(node, 'datetime') ?? '').slice(0, 40)}": expected a time from 2000 to now`;
    from.rejects.add({ reason: 'bad-time', where, detail });
    return null;
  }
  const stored = quantise(channel, value);
  if (Number.isNaN(stored)) {
    from.rejects.add({ reason: 'bad-value', where, detail: 'no number, or outside the valid range of its channel' });
    return null;
  }
  const column = createColumn(channel, 1);
  column[0] = stored;
  return { machineId: from.machineId, timeMs: Float64Array.of(timeMs), channels: { [channel]: column } };
}

/** Null when it is absent, NaN when it is no number. */
function numberOf(node: FeedNode, name: string): number | null {
  const text = textOf(node, name);
  return text === null ? null : Number(text);
}

function fuelUsedL(node: FeedNode): ReturnType<Element['read']> {
  const consumed = numberOf(node, 'FuelConsumed');
  if (consumed === null) return null;
  const factor = litresIn(textOf(node, 'FuelUnits'));
  return typeof factor === 'number' ? consumed * factor : factor;
}

/** In percent, or as a volume together with the capacity of the tank. */
function defLevelPct(node: FeedNode): ReturnType<Element['read']> {
  const percent = numberOf(node, 'Percent');
  if (percent !== null) return percent;
  const volume = numberOf(node, 'DEFRemaining');
  const capacity = numberOf(node, 'DEFTankCapacity');
  if (volume === null || capacity === null) return null;
  const capacityUnit = textOf(node, 'DEFTankCapacityUnits');
  const volumeFactor = litresIn(textOf(node, 'DEFUnits') ?? capacityUnit);
  const capacityFactor = litresIn(capacityUnit);
  if (typeof volumeFactor !== 'number') return volumeFactor;
  if (typeof capacityFactor !== 'number') return capacityFactor;
  return ((volume * volumeFactor) / (capacity * capacityFactor)) * 100;
}

/** A standing engine turns at 0 rpm; how fast a running one turns is not said. */
function speedOfStanding(node: FeedNode): number | null {
  return textOf(node, 'Running')?.toLowerCase() === 'false' ? 0 : null;
}

function litresIn(unit: string | null): number | { readonly unknownUnit: string } {
  const name = (unit ?? '').toLowerCase().replaceAll(/[\s_-]+/g, ' ');
  return Object.hasOwn(litres, name) ? (litres[name] as number) : { unknownUnit: unit ?? 'none' };
}

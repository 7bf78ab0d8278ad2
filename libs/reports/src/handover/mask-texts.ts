/** Taking out of texts what tells which machine it is. */

import { createHmac } from 'node:crypto';

/** Letters and digits that cannot be taken for each other. */
const alphabet = '23456789ABCDEFGHJKMNPQRSTUVWXYZ';
const labelLength = 5;
/** Shorter words of a name are of no one machine. Source: engineering judgement. */
const shortestWord = 4;

/** A neutral label of a machine, the same each time for whoever has the key, and telling nothing to others. */
export function neutralLabel(machineId: string, key: string): string {
  const bytes = createHmac('sha256', key).update(machineId).digest();
  const signs = [...bytes.subarray(0, labelLength)].map((byte) => alphabet[byte % alphabet.length]);
  return `Machine ${signs.join('')}`;
}

export interface Identity {
  readonly machineId: string;
  readonly name: string | null;
  readonly site: string | null;
  /** Word for what kind of machine it is; it tells of no one machine and stays. */
  readonly machineClass: string;
}

/** Makes a function that writes the label for id, name and site, and for the words of name and site. */
export function masker({ machineId, name, site, machineClass }: Identity, label: string): (text: string) => string {
  const whole = [machineId, name, site].filter((text) => text !== null && text !== '') as string[];
  const kept = new Set(wordsOf(machineClass));
  const words = [name ?? '', site ?? '']
    .flatMap(wordsOf)
    .filter((word) => word.length >= shortestWord && !kept.has(word));
  const hidden = [...new Set([...whole, ...words])].sort((a, b) => b.length - a.length).map(escaped);
  if (hidden.length === 0) return (text) => text;
  // As words of their own: an id such as "7" is not taken out of 2017.
  const pattern = new RegExp(`(?<![\\p{L}\\p{N}])(?:${hidden.join('|')})(?![\\p{L}\\p{N}])`, 'giu');
  return (text) => text.replace(pattern, label);
}

/** Fields that hold a code of a closed list, a time or a channel, and nothing that somebody wrote. */
const closedFields =
  /At$|^(at|from|to|day|form|kind|verdict|level|signs|origin|endedBy|wordsFrom|channel|unit|inducementClass|saidClass|catalystFamily|machineClass|worst|timeZone|number|code|software)$/;

/** The same value with every text in it masked, but for fields that only hold codes and times. */
export function maskedDeep<T>(value: T, mask: (text: string) => string): T {
  if (typeof value === 'string') return mask(value) as T;
  if (Array.isArray(value)) return value.map((item) => maskedDeep(item, mask)) as T;
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value).map(([key, item]) => [key, closedFields.test(key) ? item : maskedDeep(item, mask)]),
  ) as T;
}

function wordsOf(text: string): string[] {
  return (text.match(/[\p{L}]+/gu) ?? []).map((word) => word.toLowerCase());
}

function escaped(text: string): string {
  return text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
}

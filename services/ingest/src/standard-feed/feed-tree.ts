/** The body of a standard feed's answer as a tree of names, whether it came as XML or as JSON. */

import { XMLParser, XMLValidator } from 'fast-xml-parser';

/** A node: an object of nodes and lists of nodes, or a text. */
export type FeedNode = unknown;

export type FeedTree =
  | { readonly form: 'tree'; readonly root: FeedNode }
  | { readonly form: 'broken'; readonly detail: string };

/** Levels that an answer can have; the standard needs five. Source: engineering judgement. */
const deepest = 32;
const longestDetail = 160;
const encodingLabel = /^<\?xml[^>]*encoding=["']([A-Za-z0-9_-]{1,20})["']/;
const takenEncodings = ['utf-8', 'us-ascii', 'iso-8859-1', 'windows-1252', 'utf-16', 'utf-16le', 'utf-16be'];

const parser = new XMLParser({
  ignoreAttributes: false,
  attributeNamePrefix: '',
  // Both editions of the standard have a name space of their own; the names in it are the same.
  removeNSPrefix: true,
  // Serial numbers have leading zeros.
  parseTagValue: false,
  parseAttributeValue: false,
  // No entity but the five of XML itself and characters by number, see below.
  processEntities: false,
  tagValueProcessor: (_name, value) => decodeReferences(value),
  attributeValueProcessor: (_name, value) => decodeReferences(value),
});

/**
 * Reads an answer.
 *
 * A document type is refused: no provider needs one, and it is the door to entities that grow or reach for files.
 * Errors: none; what cannot be read is `broken`.
 */
export function readFeedTree(body: Uint8Array): FeedTree {
  const text = decodeText(body);
  if (text === null) return broken('the text is in no encoding that is read here');
  const trimmed = text.trimStart();
  if (trimmed.startsWith('{') || trimmed.startsWith('[')) return readJson(trimmed);
  if (/<!DOCTYPE/i.test(trimmed)) return broken('a document type is not taken');
  try {
    const valid = XMLValidator.validate(trimmed);
    if (valid !== true) return broken(`not well-formed XML: ${valid.err.msg} (line ${valid.err.line})`);
    return { form: 'tree', root: parser.parse(trimmed) };
  } catch (error) {
    return broken(`not XML that is read here: ${(error as Error).message}`);
  }
}

/** Children of a name, in order; names differ in their capitals between providers. */
export function childrenOf(node: FeedNode, name: string): readonly FeedNode[] {
  if (typeof node !== 'object' || node === null || Array.isArray(node)) return [];
  const wanted = name.toLowerCase();
  const found: FeedNode[] = [];
  for (const [key, value] of Object.entries(node)) {
    // JSON made from XML may mark attributes with a sign.
    if (key.replace(/^[@$_]/, '').toLowerCase() !== wanted) continue;
    if (Array.isArray(value)) found.push(...value);
    else if (value !== null && value !== undefined) found.push(value);
  }
  return found;
}

/** The first child of a name, or undefined. */
export function childOf(node: FeedNode, name: string): FeedNode {
  return childrenOf(node, name)[0];
}

/** Text of the first child of a name, trimmed; null when there is none or it is blank. An attribute is a child here. */
export function textOf(node: FeedNode, name: string): string | null {
  const found = childOf(node, name);
  const value = typeof found === 'object' && found !== null ? childOf(found, '#text') : found;
  if (typeof value !== 'string' && typeof value !== 'number' && typeof value !== 'boolean') return null;
  const text = String(value).trim();
  return text === '' ? null : text;
}

/** Every node of a name, however deep. */
export function findAll(node: FeedNode, name: string, depth = 0): readonly FeedNode[] {
  if (typeof node !== 'object' || node === null || depth > deepest) return [];
  if (Array.isArray(node)) return node.flatMap((each) => findAll(each, name, depth + 1));
  const here = childrenOf(node, name);
  if (here.length > 0) return here;
  return Object.values(node).flatMap((each) => findAll(each, name, depth + 1));
}

function readJson(text: string): FeedTree {
  try {
    return { form: 'tree', root: JSON.parse(text) };
  } catch (error) {
    return broken(`not JSON: ${(error as Error).message}`);
  }
}

function decodeText(body: Uint8Array): string | null {
  const head = Buffer.from(body.subarray(0, 200)).toString('latin1');
  const label = head.charCodeAt(0) > 127 ? null : encodingLabel.exec(head)?.[1]?.toLowerCase();
  const isUtf16 = (body[0] === 0xff && body[1] === 0xfe) || (body[0] === 0xfe && body[1] === 0xff);
  const encoding = isUtf16 ? (body[0] === 0xff ? 'utf-16le' : 'utf-16be') : (label ?? 'utf-8');
  if (!takenEncodings.includes(encoding)) return null;
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(body);
  } catch {
    return null;
  }
}

const references: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" };

/** Source: XML 1.0, 4.1 and 4.6; references to anything else stay as they are. */
function decodeReferences(text: string): string {
  if (!text.includes('&')) return text;
  return text.replaceAll(
    /&(?:#(\d{1,7})|#x([0-9A-Fa-f]{1,6})|(amp|lt|gt|quot|apos));/g,
    (whole, decimal, hex, name) => {
      if (name !== undefined) return references[name] as string;
      const code = decimal === undefined ? Number.parseInt(hex, 16) : Number(decimal);
      return code > 0 && code <= 0x10ffff && (code < 0xd800 || code > 0xdfff) ? String.fromCodePoint(code) : whole;
    },
  );
}

function broken(detail: string): FeedTree {
  return { form: 'broken', detail: detail.replaceAll(/\s+/g, ' ').slice(0, longestDetail) };
}

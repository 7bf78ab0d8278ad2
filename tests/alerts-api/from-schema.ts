/** Values by JSON Schema (the part of draft 2020-12 that our descriptions use), for requests made from the description. */

import fc from 'fast-check';

export interface JsonSchema {
  readonly $ref?: string;
  readonly type?: string | readonly string[];
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly anyOf?: readonly JsonSchema[];
  readonly oneOf?: readonly JsonSchema[];
  readonly allOf?: readonly JsonSchema[];
  readonly properties?: Readonly<Record<string, JsonSchema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: JsonSchema | boolean;
  readonly items?: JsonSchema;
  readonly prefixItems?: readonly JsonSchema[];
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly minLength?: number;
  readonly maxLength?: number;
  readonly pattern?: string;
  readonly format?: string;
}

export type Components = Readonly<Record<string, JsonSchema>>;

const mostItems = 3;
const mostLength = 40;
const earliestMs = Date.UTC(2020, 0, 1);
const latestMs = Date.UTC(2030, 0, 1);
const instants = fc.integer({ min: earliestMs, max: latestMs }).map((atMs) => new Date(atMs).toISOString());

/** Values that a schema allows; some of them break a rule that the schema cannot say. */
export function valuesOf(schema: JsonSchema, components: Components, depth = 0): fc.Arbitrary<unknown> {
  const of = (inner: JsonSchema) => valuesOf(inner, components, depth + 1);
  if (schema.$ref !== undefined) return of(components[schema.$ref.split('/').pop() ?? ''] ?? {});
  if (schema.const !== undefined) return fc.constant(schema.const);
  if (schema.enum !== undefined) return fc.constantFrom(...schema.enum);
  const options = schema.anyOf ?? schema.oneOf;
  if (options !== undefined) return fc.oneof(...options.map(of));
  if (schema.allOf !== undefined) return fc.tuple(...schema.allOf.map(of)).map((parts) => Object.assign({}, ...parts));
  const type = Array.isArray(schema.type) ? schema.type[0] : schema.type;
  if (type === 'object') return objectsOf(schema, of, depth);
  if (type === 'array') return arraysOf(schema, of);
  if (type === 'string') return textsOf(schema);
  if (type === 'integer') return numbersOf(schema, true);
  if (type === 'number') return numbersOf(schema, false);
  if (type === 'boolean') return fc.boolean();
  if (type === 'null') return fc.constant(null);
  return fc.oneof(fc.string({ maxLength: 5 }), fc.integer(), fc.constant(null));
}

type Of = (schema: JsonSchema) => fc.Arbitrary<unknown>;

function objectsOf({ properties = {}, required = [], additionalProperties }: JsonSchema, of: Of, depth: number) {
  const fields = Object.fromEntries(Object.entries(properties).map(([name, schema]) => [name, of(schema)]));
  const known = fc.record(fields, { requiredKeys: [...required].filter((name) => name in fields) });
  if (typeof additionalProperties !== 'object' || depth > 6) return known;
  const extra = fc.dictionary(fc.string({ minLength: 1, maxLength: 8 }), of(additionalProperties), { maxKeys: 2 });
  return fc.tuple(extra, known).map(([a, b]) => ({ ...a, ...b }));
}

function arraysOf({ items = {}, prefixItems, minItems = 0, maxItems = minItems + mostItems }: JsonSchema, of: Of) {
  if (prefixItems !== undefined) return fc.tuple(...prefixItems.map(of));
  return fc.array(of(items), { minLength: minItems, maxLength: Math.min(maxItems, minItems + mostItems) });
}

function textsOf({ pattern, format, minLength = 0, maxLength = mostLength }: JsonSchema): fc.Arbitrary<string> {
  if (format === 'date-time') return instants;
  if (format === 'date') return instants.map((text) => text.slice(0, 10));
  if (format === 'uri') return fc.webUrl();
  if (pattern !== undefined) {
    const wanted = new RegExp(pattern, 'u');
    // Classes of characters by property are not made from the pattern but picked by it.
    const isByProperty = pattern.includes('\\p{');
    const texts = isByProperty ? fc.string({ minLength: 1, maxLength: 20 }) : fc.stringMatching(wanted);
    return texts
      .filter((text) => wanted.test(text))
      .filter((text) => text.length >= minLength && text.length <= Math.max(maxLength, 120));
  }
  return fc.string({ minLength, maxLength: Math.min(maxLength, minLength + mostLength) });
}

function numbersOf({ minimum, maximum, exclusiveMinimum }: JsonSchema, isWhole: boolean): fc.Arbitrary<number> {
  const min = Math.max(minimum ?? exclusiveMinimum ?? -1e6, -1e12);
  const max = Math.min(maximum ?? Math.max(1e6, min + 1000), 1e12);
  if (isWhole) return fc.integer({ min: Math.ceil(min), max: Math.min(Math.floor(max), 2 ** 31 - 1) });
  return fc.double({ min, max, noNaN: true, minExcluded: exclusiveMinimum !== undefined });
}

/** Writes each route's role, its name, and the answers to whoever has not got the role into the description of the API. */

import { problemSchema } from '@warmbrick/contracts';
import type { FastifySchema, RouteOptions } from 'fastify';
import { jsonSchemaTransform, jsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { operationName } from '../http/operation-name.js';
import { sessionCookieName } from './caller.js';

type Transform = typeof jsonSchemaTransform;
type TransformObject = typeof jsonSchemaTransformObject;

/** How a caller says who it is. Source: RFC 6750, 2.1, and OpenAPI 3.1.0, 4.8.27. */
export const securitySchemes = {
  bearer: { type: 'http', scheme: 'bearer', description: 'An API key, or a token of the identity provider.' },
  session: { type: 'apiKey', in: 'cookie', name: sessionCookieName, description: "The console's sign-in." },
} as const;

/** Also where nobody has to say who it is. */
const always = { 429: refusal('too-many-requests') };
const refusals = {
  ...always,
  401: refusal('key-missing, key-invalid, key-expired, key-revoked'),
  403: refusal('role-too-low, cross-site'),
};
/** What any route may answer. */
const everywhere = {
  400: refusal('invalid-request'),
  503: refusal('store-unavailable, overloaded'),
};

/** The transformation of a route's schema for the description. */
export const describeAccess: Transform = (parts) => {
  const { schema, route, url } = parts as { schema: FastifySchema; route: RouteOptions; url: string };
  const role = route.config?.role ?? 'admin';
  if (schema === undefined || schema.hide === true) return jsonSchemaTransform(parts);
  const own = schema.response as object | undefined;
  const response = role === 'open' ? { ...always, ...own } : { ...everywhere, ...refusals, ...own };
  const querystring = withFields(route, schema.querystring);
  const described = querystring === undefined ? { ...schema, response } : { ...schema, response, querystring };
  const transformed = jsonSchemaTransform({ ...parts, schema: described } as never);
  return {
    ...transformed,
    schema: {
      ...(transformed.schema as object),
      operationId: operationName(String(route.method), url),
      'x-least-role': role,
      security: role === 'open' ? [] : [{ bearer: [] }, { session: [] }],
    },
  } as ReturnType<Transform>;
};

const fields = z
  .string()
  .regex(/^[A-Za-z0-9, ]{1,2000}$/)
  .optional()
  .meta({ description: 'Only these fields of each item, or of the one thing; names with commas between.' });

/** Every read of JSON takes `fields`. */
function withFields(route: RouteOptions, querystring: unknown): unknown {
  const own = querystring instanceof z.ZodObject ? querystring : z.strictObject({});
  const isRead = String(route.method).split(',').includes('GET');
  const answer = (route.schema?.response as Record<string, unknown> | undefined)?.[200];
  return isRead && answer instanceof z.ZodType && !('fields' in own.shape) ? own.extend({ fields }) : querystring;
}

/** The transformation of the whole: only what some route refers to stays among the components. */
export const describeComponents: TransformObject = (document) => {
  const whole = jsonSchemaTransformObject(document) as { components?: { schemas?: Record<string, unknown> } };
  const { components: { schemas = {}, ...others } = {}, ...rest } = whole;
  const used = new Map<string, unknown>();
  const collect = (part: unknown): void => {
    for (const [, name = ''] of JSON.stringify(part ?? null).matchAll(/"#\/components\/schemas\/([^"]+)"/g)) {
      if (used.has(name) || !(name in schemas)) continue;
      used.set(name, schemas[name]);
      collect(schemas[name]);
    }
  };
  collect(rest);
  const inOrder = [...used].sort(([a], [b]) => (a < b ? -1 : 1));
  return ownKeywords({
    ...rest,
    components: { ...others, schemas: Object.fromEntries(inOrder) },
  }) as ReturnType<TransformObject>;
};

/** Unit and source of a setting are keywords of our own. Source: OpenAPI 3.1.0, 4.9 Specification Extensions. */
function ownKeywords(part: unknown): unknown {
  if (Array.isArray(part)) return part.map(ownKeywords);
  if (typeof part !== 'object' || part === null) return part;
  const spelledOut = withProperties(part);
  if (spelledOut !== null) return ownKeywords(spelledOut);
  return Object.fromEntries(
    Object.entries(part).map(([name, value]) => [
      (name === 'unit' || name === 'source') && typeof value === 'string' ? `x-${name}` : name,
      ownKeywords(value),
    ]),
  );
}

/** A record with the names of a closed list, as an object with these properties; null for anything else. */
function withProperties(part: object): object | null {
  const { propertyNames, additionalProperties, required, ...rest } = part as {
    propertyNames?: { enum?: string[] };
    additionalProperties?: unknown;
    required?: string[];
  };
  const names = propertyNames?.enum;
  if (names === undefined || typeof additionalProperties !== 'object') return null;
  const properties = Object.fromEntries(names.map((name) => [name, additionalProperties]));
  return { ...rest, properties, ...(required === undefined ? {} : { required }), additionalProperties: false };
}

function refusal(codes: string) {
  return { description: codes, content: { 'application/problem+json': { schema: problemSchema } } };
}

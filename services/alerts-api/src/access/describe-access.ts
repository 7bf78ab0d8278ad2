/** Writes each route's role, and the answers to whoever has not got it, into the description of the API. */

import { problemSchema } from '@warmbrick/contracts';
import type { FastifySchema, RouteOptions } from 'fastify';
import { jsonSchemaTransform } from 'fastify-type-provider-zod';
import { sessionCookieName } from './caller.js';

type Transform = typeof jsonSchemaTransform;

const refusals = {
  401: refusal('key-missing, key-invalid, key-expired, key-revoked'),
  403: refusal('role-too-low, cross-site'),
  429: refusal('too-many-requests'),
};

/** How a caller says who it is. Source: RFC 6750, 2.1, and OpenAPI 3.1.0, 4.8.27. */
export const securitySchemes = {
  bearer: { type: 'http', scheme: 'bearer', description: 'An API key, or a token of the identity provider.' },
  session: { type: 'apiKey', in: 'cookie', name: sessionCookieName, description: "The console's sign-in." },
} as const;

/** The transformation of a route's schema for the description: adds `x-least-role`, `security` and the refusals. */
export const describeAccess: Transform = (parts) => {
  const { schema, route } = parts as { schema: FastifySchema; route: RouteOptions };
  const role = route.config?.role ?? 'admin';
  if (schema === undefined || schema.hide === true) return jsonSchemaTransform(parts);
  const response = role === 'open' ? schema.response : { ...refusals, ...(schema.response as object | undefined) };
  const transformed = jsonSchemaTransform({ ...parts, schema: { ...schema, response } } as never);
  return {
    ...transformed,
    schema: {
      ...(transformed.schema as object),
      'x-least-role': role,
      security: role === 'open' ? [] : [{ bearer: [] }, { session: [] }],
    },
  } as ReturnType<Transform>;
};

function refusal(codes: string) {
  return { description: codes, content: { 'application/problem+json': { schema: problemSchema } } };
}

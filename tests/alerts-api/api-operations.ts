/** The operations of the API as its own description tells them. */

import { describeApi } from '@warmbrick/alerts-api';
import type { Role } from '@warmbrick/contracts';
import type { Components, JsonSchema } from './from-schema.js';

interface Parameter {
  readonly in: 'path' | 'query' | 'header';
  readonly name: string;
  readonly required?: boolean;
  readonly schema: JsonSchema;
}

interface Described {
  readonly operationId: string;
  readonly 'x-least-role': Role | 'open';
  readonly parameters?: readonly Parameter[];
  readonly requestBody?: { readonly content: Readonly<Record<string, { readonly schema: JsonSchema }>> };
}

export interface Operation {
  readonly name: string;
  readonly method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE';
  readonly path: string;
  readonly role: Role | 'open';
  readonly parameters: readonly Parameter[];
  readonly body: JsonSchema | null;
}

/** All operations, and the schemas that they refer to. */
export async function apiOperations(): Promise<{ operations: Operation[]; components: Components }> {
  const document = (await describeApi()) as {
    paths: Record<string, Record<string, Described>>;
    components: { schemas: Components };
  };
  const operations = Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, described]) => ({
      name: described.operationId,
      method: method.toUpperCase() as Operation['method'],
      path,
      role: described['x-least-role'],
      parameters: described.parameters ?? [],
      body: described.requestBody?.content['application/json']?.schema ?? null,
    })),
  );
  return { operations, components: document.components.schemas };
}

/** A typed client out of the OpenAPI document: types of everything that is sent and answered, and a function an operation. */

import { compile, type JSONSchema } from 'json-schema-to-typescript';

interface Parameter {
  readonly in: string;
  readonly name: string;
  readonly required?: boolean;
  readonly schema: JSONSchema;
}

interface Described {
  readonly operationId: string;
  readonly summary: string;
  readonly parameters?: readonly Parameter[];
  readonly requestBody?: {
    readonly required?: boolean;
    readonly content: Readonly<Record<string, { schema: JSONSchema }>>;
  };
  readonly responses: Readonly<Record<string, { readonly content?: Readonly<Record<string, { schema: JSONSchema }>> }>>;
}

export interface OpenApi {
  readonly paths: Readonly<Record<string, Readonly<Record<string, Described>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, JSONSchema>> };
}

/** Streams and files are no JSON; the pages open the one and do not send the other. */
const json = 'application/json';

const banner = `/**
 * Every operation of the API as a typed function, and the types of what it takes and gives.
 *
 * Made from services/alerts-api/openapi.json by \`npm run client:make\`; not written by hand.
 */

import { type CallOptions, call, type Fetched, send } from './call.js';
`;

/** The text of the client's file. */
export async function makeClient({ paths, components }: OpenApi): Promise<string> {
  const definitions: Record<string, JSONSchema> = { ...components.schemas };
  const lines: string[] = [];
  for (const [path, methods] of Object.entries(paths)) {
    for (const [method, operation] of Object.entries(methods)) {
      if (!path.startsWith('/v1/')) continue;
      const line = operationLine({ path, method: method.toUpperCase(), operation, definitions });
      if (line !== null) lines.push(line);
    }
  }
  const types = await typesOf(withoutAliases(definitions));
  const aliases = Object.entries(definitions).flatMap(([name, schema]) => {
    const other = referred(schema);
    return other === null ? [] : [`export type ${name} = ${other};`];
  });
  return `${banner}\n${types}\n${aliases.join('\n')}\n\nexport const api = {\n${lines.join('\n')}\n};\n`;
}

interface OperationPlace {
  readonly path: string;
  readonly method: string;
  readonly operation: Described;
  /** Types that operations need are added here. */
  readonly definitions: Record<string, JSONSchema>;
}

/** One function; null for an answer that is not JSON. */
function operationLine({ path, method, operation, definitions }: OperationPlace): string | null {
  const name = operation.operationId;
  const typeName = name.charAt(0).toUpperCase() + name.slice(1);
  const [status, good] = Object.entries(operation.responses).find(([code]) => code.startsWith('2')) ?? [];
  const answer = good?.content?.[json]?.schema;
  if (status !== '204' && answer === undefined) return null;
  if (answer !== undefined) definitions[`${typeName}Answer`] = answer;
  const fields: string[] = [];
  let isAnyRequired = false;
  for (const place of ['path', 'query'] as const) {
    const parameters = (operation.parameters ?? []).filter((parameter) => parameter.in === place);
    if (parameters.length === 0) continue;
    const required = parameters.filter((parameter) => parameter.required === true).map((parameter) => parameter.name);
    const properties = Object.fromEntries(parameters.map((parameter) => [parameter.name, parameter.schema]));
    definitions[`${typeName}${place === 'path' ? 'Path' : 'Query'}`] = {
      type: 'object',
      properties,
      required,
      additionalProperties: false,
    };
    isAnyRequired ||= required.length > 0;
    fields.push(`${place}${required.length > 0 ? '' : '?'}: ${typeName}${place === 'path' ? 'Path' : 'Query'}`);
  }
  const body = operation.requestBody?.content[json]?.schema;
  if (body !== undefined) {
    definitions[`${typeName}Body`] = body;
    const isRequired = operation.requestBody?.required === true;
    isAnyRequired ||= isRequired;
    fields.push(`body${isRequired ? '' : '?'}: ${typeName}Body`);
  }
  // A read can be called off; what changes something is sent to the end.
  const isRead = method === 'GET';
  const base = isRead ? 'CallOptions' : 'object';
  const own = fields.length === 0 ? base : `${isRead ? 'CallOptions & ' : ''}{ ${fields.join('; ')} }`;
  const answerType = answer === undefined ? 'null' : `${typeName}Answer`;
  return [
    `  /** ${operation.summary}. */`,
    `  ${name}: (options: ${own}${isAnyRequired ? '' : ' = {}'}): Promise<Fetched<${answerType}>${isRead ? ' | null' : ''}> =>`,
    `    ${isRead ? 'call' : 'send'}('${method}', '${path}', options),`,
  ].join('\n');
}

/** The name of the schema that another one is as a whole; null when it is one of its own. */
function referred(schema: JSONSchema): string | null {
  return schema.$ref?.split('/').pop() ?? null;
}

function withoutAliases(definitions: Readonly<Record<string, JSONSchema>>): Record<string, JSONSchema> {
  return Object.fromEntries(Object.entries(definitions).filter(([, schema]) => referred(schema) === null));
}

async function typesOf(definitions: Readonly<Record<string, JSONSchema>>): Promise<string> {
  const text = JSON.stringify({ definitions, type: 'object', additionalProperties: false });
  const schema = JSON.parse(text.replaceAll('#/components/schemas/', '#/definitions/')) as JSONSchema;
  const made = await compile(namedOnce(schema), 'ApiTypes', {
    bannerComment: '',
    additionalProperties: false,
    unreachableDefinitions: true,
    ignoreMinAndMaxItems: true,
    format: false,
    strictIndexSignatures: false,
    unknownAny: true,
  });
  // The root is only there to hold the others; what the fields mean stands in the description of the API.
  return made
    .replaceAll(/\/\*\*[\s\S]*?\*\/\n?/g, '')
    .replace(/export interface ApiTypes \{\n?\}\n?/, '')
    .replaceAll(/\n{2,}/g, '\n');
}

/** Without titles, ids and the like of inner schemas, which would become names of types. */
function namedOnce(schema: JSONSchema): JSONSchema {
  const strip = (part: unknown): unknown => {
    if (Array.isArray(part)) return part.map(strip);
    if (typeof part !== 'object' || part === null) return part;
    const kept = Object.entries(part).filter(
      ([name, value]) => !(['title', 'id', '$id', 'default'].includes(name) && typeof value !== 'object'),
    );
    return Object.fromEntries(kept.map(([name, value]) => [name, strip(value)]));
  };
  return strip(schema) as JSONSchema;
}

/** The files that are made from the schemas and committed: descriptions of the API and of the topics, and the client. */

import { describeApi } from '@warmbrick/alerts-api';
import { asyncApiDocument } from '@warmbrick/contracts';
import { makeClient, type OpenApi } from './make-client.js';

/** Text by path from the root of the repository. */
export async function freshDescriptions(): Promise<Record<string, string>> {
  const openApi = await describeApi();
  return {
    'services/alerts-api/openapi.json': jsonText(openApi),
    'services/alerts-api/asyncapi.json': jsonText(asyncApiDocument()),
    'services/console/src/api/client.ts': await makeClient(openApi as OpenApi),
  };
}

function jsonText(document: object): string {
  return `${JSON.stringify(document, null, 2)}\n`;
}

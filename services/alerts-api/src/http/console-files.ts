/** The console's files at `/`, and its one page for every page path. */

import { existsSync } from 'node:fs';
import { join } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { pathOf } from './problem-handlers.js';

/** Paths that belong to the API and never fall back to the console's page. */
const apiPath = /^\/(v\d+|healthz|readyz|openapi\.json|asyncapi\.json|metrics)(\/|$)/;
/** Files whose name holds a hash of their content, as the console's build writes them. */
const hashedFile = /-[\w-]{8,}\.\w+$/;

/** Serves the files of a folder; nothing when there is no built console in it. */
export async function serveConsole(app: FastifyInstance, siteDir: string): Promise<void> {
  // The plugin's own routes take no options of ours.
  app.addHook('onRoute', (route) => {
    if (isFileRoute(route.url)) route.config = { ...route.config, role: 'open' };
  });
  await app.register(fastifyStatic, {
    root: siteDir,
    cacheControl: false,
    setHeaders: (response, path) => {
      response.setHeader('Cache-Control', hashedFile.test(path) ? 'public, max-age=31536000, immutable' : 'no-cache');
    },
  });
}

/** The addresses that the plugin of files makes; the API has none with a star. */
function isFileRoute(url: string): boolean {
  return url === '/' || url === '/*';
}

/** Whether a folder holds a built console. */
export function hasConsole(siteDir: string | undefined): siteDir is string {
  return siteDir !== undefined && existsSync(join(siteDir, 'index.html'));
}

/** Sends the console's page for a path that looks like one of its pages; false for anything else. */
export function sendConsolePage(request: FastifyRequest, reply: FastifyReply): boolean {
  const path = pathOf(request);
  const isPage = (request.method === 'GET' || request.method === 'HEAD') && !apiPath.test(path) && !/\.\w+$/.test(path);
  if (isPage) reply.header('Cache-Control', 'no-cache').sendFile('index.html');
  return isPage;
}

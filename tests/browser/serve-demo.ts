/** Shows the built pages over invented machines: `npx tsx tests/browser/serve-demo.ts [port]`. */

import { fileURLToPath } from 'node:url';
import { startFakeApi } from './fake-api.js';

const siteFolder = fileURLToPath(new URL('../../services/console/dist/site', import.meta.url));
const api = await startFakeApi({
  siteFolder,
  machineCount: 24,
  startMs: Date.now(),
  port: Number(process.argv[2] ?? 8099),
});
console.log(`Invented machines at ${api.origin}`);

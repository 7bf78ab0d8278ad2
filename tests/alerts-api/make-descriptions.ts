/** `npm run client:make`: writes the descriptions of the API and of the topics, and the client, anew. */

import { writeFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { freshDescriptions } from './fresh-descriptions.js';

const root = fileURLToPath(new URL('../../', import.meta.url));
for (const [path, text] of Object.entries(await freshDescriptions())) {
  await writeFile(root + path, text);
  process.stdout.write(`${path}: ${text.length} characters\n`);
}

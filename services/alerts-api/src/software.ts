/** Name and version of the program, as reports say it. */

import { readFileSync } from 'node:fs';

const manifest = JSON.parse(readFileSync(new URL('../package.json', import.meta.url), 'utf8')) as { version: string };

/** Such as "Warmbrick 0.1.0". */
export const software = `Warmbrick ${manifest.version}`;

/** Run by the bench `live` in a process of its own, into which it loads nothing but what is measured. */

import { measureMemory } from './live-memory.js';

process.stdout.write(`${JSON.stringify(await measureMemory(10_000))}\n`);

/** Counts every change between light and dark, so that canvases are drawn anew with the colours in force. */

import { signal } from '@preact/signals';

export const lightChanges = signal(0);

const changed = () => {
  lightChanges.value += 1;
};

/** Watches the system's light, the page's own switch and the printer; call once. */
export function watchLight(): void {
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', changed);
  matchMedia('print').addEventListener('change', changed);
  new MutationObserver(changed).observe(document.documentElement, { attributeFilter: ['data-theme'] });
}

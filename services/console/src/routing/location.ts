/** Where the reader is: path and query of the address bar, as signals. */

import { computed, signal } from '@preact/signals';

const address = signal(new URL(location.href));

export const path = computed(() => address.value.pathname);
export const query = computed(() => address.value.searchParams);

/** Query names that belong to one machine's chart and are left behind with it. */
const machineOnly = [
  'from',
  'to',
  'ch',
  'runs',
  'bucket',
  'd',
  'log',
  'active',
  'alert',
  'show',
  'view',
  'set',
  'days',
  'with',
  'group',
];

/** Follows the browser's back and forward; call once. */
export function startRouting(): void {
  addEventListener('popstate', () => {
    address.value = new URL(location.href);
  });
}

/** Goes to a path of this site, keeping the choices that hold on every page. */
export function goTo(pathname: string): void {
  history.pushState(null, '', hrefOf(pathname));
  address.value = new URL(location.href);
  scrollTo(0, 0);
  requestAnimationFrame(() => document.querySelector<HTMLElement>('h1')?.focus({ preventScroll: true }));
}

/** Address of a path with the choices that hold on every page. */
export function hrefOf(pathname: string): string {
  const kept = new URLSearchParams(query.value);
  for (const name of machineOnly) kept.delete(name);
  const text = kept.toString();
  return text === '' ? pathname : `${pathname}?${text}`;
}

/** Sets or, with null, removes names of the query; a `push` can be gone back from. */
export function setQuery(changes: Readonly<Record<string, string | null>>, how: 'push' | 'replace' = 'replace'): void {
  const next = new URL(location.href);
  for (const [name, value] of Object.entries(changes)) {
    if (value === null || value === '') next.searchParams.delete(name);
    else next.searchParams.set(name, value);
  }
  if (next.href === location.href) return;
  if (how === 'push') history.pushState(null, '', next);
  else history.replaceState(null, '', next);
  address.value = next;
}

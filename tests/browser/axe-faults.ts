/** What the accessibility checker finds on a page. */

import axe from 'axe-core';
import type { Page } from 'playwright-core';

/** Rules of the Web Content Accessibility Guidelines 2.2, A and AA, and common practice beyond them. */
const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/** Each violation with the element it was found at. */
export async function axeFaults(page: Page): Promise<string[]> {
  // Evaluated by the debugger, so that the page's own policy stays as strict as it is.
  await page.evaluate(`${axe.source}; undefined`);
  return page.evaluate(async (only) => {
    const { violations } = await (globalThis as unknown as { axe: typeof axe }).axe.run(document, { runOnly: only });
    const places = (nodes: { html: string }[]) => nodes.slice(0, 3).map(({ html }) => html.slice(0, 160));
    return violations.map(({ id, nodes }) => `${id}: ${places(nodes).join(' | ')}`);
  }, tags);
}

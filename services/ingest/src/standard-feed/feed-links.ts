/** Where a page of a standard feed goes on. Source: ISO/TS 15143-3, 7 and 8.4: links of `rel` and `href`. */

import { childrenOf, type FeedNode, findAll, textOf } from './feed-tree.js';

export type NextPage =
  | { readonly form: 'last' }
  | { readonly form: 'next'; readonly url: string }
  /** It leads to another host; our credentials do not go there. */
  | { readonly form: 'elsewhere'; readonly url: string };

/** The link `next` of a page that came from `url`. */
export function nextPage(root: FeedNode, url: string): NextPage {
  const links = findAll(root, 'Links').flatMap((node) => [node, ...childrenOf(node, 'Link')]);
  const next = links.find((node) => textOf(node, 'rel')?.toLowerCase() === 'next');
  const href = textOf(next, 'href');
  if (href === null) return { form: 'last' };
  let target: URL;
  try {
    target = new URL(href, url);
  } catch {
    return { form: 'elsewhere', url: href.slice(0, 200) };
  }
  if (target.origin !== new URL(url).origin) return { form: 'elsewhere', url: target.origin };
  target.hash = '';
  return { form: 'next', url: target.href };
}

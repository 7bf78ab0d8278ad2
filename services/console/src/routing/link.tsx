import type { ComponentChildren } from 'preact';
import { goTo, hrefOf } from './location.js';

interface LinkProps {
  readonly to: string;
  readonly children: ComponentChildren;
  readonly class?: string;
}

/** A link inside the site; with a modifier key the browser does what it always does. */
export function Link({ to, children, class: className }: LinkProps) {
  const follow = (event: MouseEvent) => {
    if (event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    event.preventDefault();
    goTo(to);
  };
  return (
    <a href={hrefOf(to)} onClick={follow} class={className}>
      {children}
    </a>
  );
}

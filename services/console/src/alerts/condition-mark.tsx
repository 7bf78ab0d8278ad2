import type { AlertDocument } from '@warmbrick/contracts';

/**
 * The condition as a brick: whole while it goes on, half when it is about to end or to begin, in pieces when nobody knows,
 * only its outline when it is over. Words always stand beside it.
 */
export function ConditionMark({ condition }: { readonly condition: AlertDocument['condition'] }) {
  return (
    <svg class={`condition-mark condition-${condition}`} viewBox="0 0 30 14" aria-hidden="true">
      <rect class="outline" x="1" y="1" width="28" height="12" />
      {condition === 'active' && <rect class="fill" x="1" y="1" width="28" height="12" />}
      {(condition === 'releasing' || condition === 'qualifying') && (
        <rect class="fill" x="1" y="1" width="14" height="12" />
      )}
      {condition === 'unknown' && <path class="fill" d="M3 3h5v8h-5zM12 3h6v8h-6zM22 3h5v8h-5z" />}
    </svg>
  );
}

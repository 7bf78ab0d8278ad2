interface PileProps {
  /** Bricks that are filled, from the bottom up; 0-3. */
  readonly filled: number;
  readonly tone: 'risk' | 'severity';
}

/** A pile of three places for bricks: the more are laid, the more it matters. Words always stand beside it. */
export function Pile({ filled, tone }: PileProps) {
  return (
    <svg class={`pile pile-${tone} pile-${filled}`} viewBox="0 0 16 17" aria-hidden="true">
      {[0, 1, 2].map((place) => (
        <rect
          key={place}
          class={place < filled ? 'laid' : 'empty'}
          x={place % 2 === 0 ? 0.5 : 2.5}
          y={12.5 - place * 6}
          width="12"
          height="4"
        />
      ))}
    </svg>
  );
}

/** Places for bricks in the course. */
const places = 10;
const pitch = 9;

/** A course of ten bricks, laid as far as a fault is likely. Words stand beside it. Range: 0..1. */
export function LikelihoodCourse({ ratio }: { readonly ratio: number }) {
  const laid = Math.round(Math.min(1, Math.max(0, ratio)) * places);
  return (
    <svg class="likelihood" viewBox={`0 0 ${places * pitch} 8`} aria-hidden="true">
      {Array.from({ length: places }, (_, place) => (
        <rect
          key={place}
          class={place < laid ? 'laid' : 'empty'}
          x={place * pitch + 0.5}
          y="0.5"
          width={pitch - 2}
          height="7"
        />
      ))}
    </svg>
  );
}

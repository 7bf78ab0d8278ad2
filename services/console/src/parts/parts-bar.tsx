import { partLook, partNames, partWords } from '../format/score-words.js';
import { barHeight, partShape } from './part-shape.js';

/** The parts of a score, end to end on a rule of 100 points. Each part has its own shape beside its colour. */
export function PartsBar({ parts }: { readonly parts: Readonly<Record<string, number>> }) {
  let start = 0;
  const spans = partNames(parts).map((name) => {
    const points = Math.max(0, parts[name] ?? 0);
    const span = { name, start, points };
    start += points;
    return span;
  });
  const words = spans.map((span) => `${partWords(span.name).name.toLowerCase()} ${span.points.toFixed(1)}`);
  return (
    <svg
      class="parts-bar"
      viewBox={`0 0 100 ${barHeight}`}
      preserveAspectRatio="none"
      role="img"
      aria-label={words.length === 0 ? 'Made of no parts' : `Made of ${words.join(', ')}`}
    >
      <path class="parts-rule" d={`M0 ${barHeight - 0.5}h100`} />
      {spans.map((span) => {
        const look = partLook(span.name);
        const shape = partShape(look, span);
        return shape === null ? null : <path key={span.name} class={`part-${look}`} d={shape} />;
      })}
    </svg>
  );
}

import { partOrder, partWords } from '../format/score-words.js';

/** Drawing units: the score's own points, 0-100. */
const barHeight = 8;

/** The parts of a score, end to end on a rule of 100 points. Each part has its own fill beside its colour. */
export function PartsBar({ parts }: { readonly parts: Readonly<Record<string, number>> }) {
  let start = 0;
  const spans = partOrder.map((name) => {
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
      aria-label={`Made of ${words.join(', ')}`}
    >
      <path class="parts-rule" d={`M0 ${barHeight - 0.5}h100`} />
      {spans.map((span) => (
        <PartSpan key={span.name} name={span.name} start={span.start} points={span.points} />
      ))}
    </svg>
  );
}

interface PartSpanProps {
  readonly name: string;
  readonly start: number;
  readonly points: number;
}

function PartSpan({ name, start, points }: PartSpanProps) {
  const width = Math.max(0, points - 0.8);
  if (width === 0) return null;
  return (
    <>
      <path class={`part-${name}`} d={`M${start} 0h${width}v${barHeight}h${-width}z`} />
      {name === 'cold-running' && (
        <path class="part-hole" d={`M${start + 1} 2h${Math.max(0, width - 2)}v4h${-Math.max(0, width - 2)}z`} />
      )}
      {name === 'idling' && (
        <path class="part-hole" d={`M${start} 2.4h${width}v1h${-width}zM${start} 4.8h${width}v1h${-width}z`} />
      )}
    </>
  );
}

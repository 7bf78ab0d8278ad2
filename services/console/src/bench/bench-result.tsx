import type { BenchStore } from './bench-store.js';
import { ChangeList, ChangeStrips, ChangeTable, HourFigure } from './change-figures.js';

/** What the moved thresholds would have changed. */
export function BenchResult({ store, timeZone }: { readonly store: BenchStore; readonly timeZone: string }) {
  const span = store.loaded.value;
  const tried = store.tried.value;
  if (span === null || tried === null) return <section class="bench-result" aria-label="Result" />;
  const { document, elapsedMs, isWhole } = tried;
  const machine = document.machines[0];
  const { totals } = document;
  const score = machine?.score;
  return (
    <section class="bench-result" aria-label="Result" aria-live="polite">
      <p class="bench-verdict">
        {totals.appears + totals.vanishes + totals.moves + totals.changes === 0
          ? 'Nothing would change in this time.'
          : `${totals.appears} appear, ${totals.vanishes} vanish, ${totals.moves} move, ${totals.changes} are said otherwise.`}
      </p>
      <p class="quiet">
        Soot risk{' '}
        {!isWhole
          ? 'is being computed'
          : score?.before === score?.after
            ? `stays ${score?.after ?? 'unknown'}`
            : `${score?.before ?? '–'} → ${score?.after ?? '–'}`}
        . {span.samples.toLocaleString('en')} samples answered in{' '}
        <span data-elapsed-ms={elapsedMs.toFixed(1)}>{Math.max(1, Math.round(elapsedMs))} ms</span>.
      </p>
      <ChangeTable document={document} />
      {machine !== undefined && (
        <>
          <ChangeStrips machine={machine} span={span} />
          <HourFigure machine={machine} timeZone={timeZone} />
          <ChangeList machine={machine} timeZone={timeZone} />
        </>
      )}
    </section>
  );
}

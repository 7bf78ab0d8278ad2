import type { ScoreDocument } from '@warmbrick/contracts';
import { CautionNote } from '../parts/caution-note.js';

/** What would lower the score, with the caution right beside it. */
export function AdviceNote({ score }: { readonly score: ScoreDocument | null }) {
  return (
    <section class="advice" aria-labelledby="advice-title">
      <h2 id="advice-title">What would lower it</h2>
      <p class="advice-words">
        {score === null ? 'Nothing to say until the engine has been seen running.' : score.advice}
      </p>
      <CautionNote />
    </section>
  );
}

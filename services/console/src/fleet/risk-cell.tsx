import type { ScoreDocument } from '@warmbrick/contracts';
import { bandWords, evidenceWords, riskBand } from '../format/score-words.js';
import { PartsBar } from '../parts/parts-bar.js';
import { Pile } from '../parts/pile.js';

const pileOfBand = { low: 1, watch: 2, risk: 3 } as const;

/** The score with its parts and what it stands on; never a number for a machine that was not seen running. */
export function RiskCell({ score }: { readonly score: ScoreDocument | null }) {
  if (score === null) return <span class="unscored">not seen running</span>;
  const band = riskBand(score.value);
  const evidence = evidenceWords(score.confidence);
  return (
    <span class={`risk risk-${band}${evidence.isLittle ? ' risk-little' : ''}`}>
      <span class="risk-value">{Math.round(score.value)}</span>
      <span class="risk-words">
        <Pile filled={pileOfBand[band]} tone="risk" />
        {bandWords(band)}
        <span class="risk-evidence">{evidence.words}</span>
      </span>
      <PartsBar parts={score.parts} />
    </span>
  );
}

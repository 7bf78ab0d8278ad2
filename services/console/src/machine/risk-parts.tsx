import type { ScoreDocument } from '@warmbrick/contracts';
import { bandWords, evidenceWords, partLook, partNames, partWords, riskBand } from '../format/score-words.js';
import { PartsBar } from '../parts/parts-bar.js';
import { Pile } from '../parts/pile.js';

const pileOfBand = { low: 1, watch: 2, risk: 3 } as const;

/** The score and what it is made of, in words. */
export function RiskParts({ score }: { readonly score: ScoreDocument | null }) {
  if (score === null) {
    return (
      <section class="risk-block" aria-labelledby="risk-title">
        <h2 id="risk-title">Soot risk</h2>
        <p class="unscored">Not seen running</p>
        <p>There is no score for a machine whose engine was not seen running: nothing speaks for or against it.</p>
      </section>
    );
  }
  const band = riskBand(score.value);
  const evidence = evidenceWords(score.confidence);
  return (
    <section class={`risk-block risk-${band}${evidence.isLittle ? ' risk-little' : ''}`} aria-labelledby="risk-title">
      <h2 id="risk-title">Soot risk</h2>
      <p class="risk-large">
        <span class="risk-value">{score.value.toFixed(1)}</span> <span class="quiet">of 100</span>
        <span class="risk-words">
          <Pile filled={pileOfBand[band]} tone="risk" />
          {bandWords(band)}
          <span class="risk-evidence">{evidence.words}</span>
        </span>
      </p>
      <PartsBar parts={score.parts} />
      <dl class="parts">
        {partNames(score.parts).map((name) => (
          <div key={name}>
            <dt>
              <span class={`part-key part-key-${partLook(name)}`} aria-hidden="true" />
              {partWords(name).name}
            </dt>
            <dd class="part-points">{(score.parts[name] ?? 0).toFixed(1)}</dd>
            <dd class="part-meaning">{partWords(name).meaning}</dd>
          </div>
        ))}
      </dl>
      {score.missing.length > 0 && <p class="missing">Missing for a fuller picture: {score.missing.join('; ')}.</p>}
    </section>
  );
}

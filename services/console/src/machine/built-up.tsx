import { type AmountWords, type Load, loadWords } from '../format/load-words.js';
import { units } from '../routing/choices.js';
import { LoadCourseFigure } from './load-course-figure.js';

/** What the models say has gathered in the machine, and what would clear it. */
export function BuiltUp({ load }: { readonly load: Load | null }) {
  return (
    <section class="built-up" aria-labelledby="built-up-title">
      <h2 id="built-up-title">What has built up</h2>
      {load === null ? <p>Nothing to say until the engine has been seen running.</p> : <Amounts load={load} />}
    </section>
  );
}

function Amounts({ load }: { readonly load: Load }) {
  const words = loadWords(load, units.value);
  return (
    <>
      <div class="amounts">
        {words.soot === null || load.sootRatio === null ? (
          <div class="amount">
            <AmountHead look="soot-load" name="Soot in the filter" />
            <p>This machine has no particulate filter: there is nothing for soot to fill.</p>
          </div>
        ) : (
          <div class="amount">
            <AmountHead look="soot-load" name="Soot in the filter" />
            <Share words={words.soot} />
            <LoadCourseFigure look="soot-load" ratio={load.sootRatio} doubtRatio={load.sootDoubtRatio} />
            <p class="amount-basis">{words.soot.basis}</p>
          </div>
        )}
        <div class="amount">
          <AmountHead look="deposits" name="Deposits before the SCR catalyst" />
          <Share words={words.deposits} />
          <LoadCourseFigure look="deposits" ratio={load.depositRatio} doubtRatio={null} />
          <p class="amount-basis">{words.deposits.basis}</p>
        </div>
      </div>
      <p class="clearing">{words.clearing}</p>
      {words.limit !== null && <p class="to-limit">{words.limit}</p>}
    </>
  );
}

function AmountHead({ look, name }: { readonly look: string; readonly name: string }) {
  return (
    <h3>
      <span class={`part-key part-key-${look}`} aria-hidden="true" />
      {name}
    </h3>
  );
}

function Share({ words }: { readonly words: AmountWords }) {
  return (
    <p class="amount-share">
      <strong>{words.share}</strong> {words.ofLimit}
      {words.amount !== '' && <span class="quiet"> {words.amount}</span>}
    </p>
  );
}

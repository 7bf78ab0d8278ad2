import { CourseKey } from '../course/course-key.js';
import { cleanRatio } from '../format/load-words.js';
import { riskFrom, watchFrom } from '../format/score-words.js';
import { CautionNote } from '../parts/caution-note.js';
import { PageTitle } from '../parts/page-title.js';

/** What the numbers mean, and the cautions. */
export function AboutPage() {
  return (
    <article class="prose prose-wide">
      <PageTitle text="What the numbers mean" />
      <p>
        The catalyst of a diesel engine is a brick that has to be kept warm. Run too cold for too long, it collects soot
        and deposits of urea. Warmbrick reads the machine's own signals and says which machines ran cold, idled long or
        were stopped hot.
      </p>
      <h2>The day of a machine</h2>
      <CourseKey />
      <h2>Soot risk</h2>
      <p>
        A score from 0 to 100, the sum of its parts: soot in the filter, deposits, cold running, idling and hot stops.
        Below {watchFrom} it is low, from {watchFrom} the machine is worth watching, from {riskFrom} it is at risk;
        these two limits are engineering judgement. Each score says how much evidence it stands on. A machine whose
        engine was not seen running has no score.
      </p>
      <h2>What has built up</h2>
      <p>
        Soot in the particulate filter and deposits of urea before the SCR catalyst are followed by models of how they
        gather and burn off, each against a limit of its own. Where a machine sends its own soot signal, the model keeps
        to it. Under {Math.round(cleanRatio * 100)} % of its limit each counts as clean. Nothing on a machine measures
        deposits, so that figure is a rough one. What the machine or its dealer reads stands over these figures.
      </p>
      <h2>Catalyst window</h2>
      <p>
        The exhaust temperatures at which the catalyst works fully: 350 to 450 °C (662 to 842 °F) by common practice,
        other limits for some catalysts; each machine's page shows its own. Below the dosing release temperature no DEF
        is dosed at all.
      </p>
      <h2>Idling and stopping</h2>
      <p>
        By common practice an engine idles no longer than an hour at a stretch, and low load counts as cold running too.
        Before it is switched off it runs at base idle without load for about five minutes, where it is safe to do so. A
        hot stop wears the turbocharger and lets DEF crystallise at the injector.
      </p>
      <h2>Not observed</h2>
      <p>
        Time for which no samples arrived counts neither as idle nor as off unless something proves which. It is hatched
        in the day strip and left open in the charts. A machine that has sent nothing for two minutes is shown as
        silent, with the time it was last heard; many gateways lose power with the key, so a silent machine is often a
        parked one.
      </p>
      <h2>Cautions</h2>
      <CautionNote />
      <ul>
        <li>Before any burn-off, cool-down or inspection the machine is parked and secured.</li>
        <li>DEF attacks some metals and is no fuel additive. Never put it in the fuel tank.</li>
        <li>Emissions controls may not be defeated. Nothing here says how to avoid an inducement.</li>
        <li>
          The manufacturer's manual and local rules come first. A dealer's or licensed technician's diagnosis stands
          over what is shown here.
        </li>
      </ul>
      <h2>Units and clocks</h2>
      <p>
        Temperatures in °C or °F, volumes in litres or US gallons; percent, rpm, kPa and ppm stay as sent. Times are in
        the machine's own time zone or in UTC; every page says which.
      </p>
    </article>
  );
}

import { useSignal } from '@preact/signals';
import type { DefOutlookAnswer, MachineDetail } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { type DefOutlook, defWords } from '../format/outlook-words.js';
import { units } from '../routing/choices.js';

/** The DEF tank: its level, how long it lasts, and what to leave in it overnight. */
export function DefTank({ detail }: { readonly detail: MachineDetail }) {
  return (
    <section class="def-tank" aria-labelledby="def-title">
      <h2 id="def-title">DEF tank</h2>
      {detail.def === null ? (
        <p class="nothing">No DEF level was seen for long enough to tell.</p>
      ) : (
        <Tank def={detail.def} detail={detail} />
      )}
    </section>
  );
}

function Tank({ def, detail }: { readonly def: DefOutlook; readonly detail: MachineDetail }) {
  const words = defWords(def, units.value);
  const { machineId, lastSampleAt } = detail;
  const answer = useCall(
    (signal) => api.getMachineDef({ path: { machineId }, signal }),
    `${machineId} ${lastSampleAt}`,
  ).value;
  const levels = answer?.ok === true ? answer.body.levelsAhead : [];
  return (
    <>
      <p class="amount-share">
        <strong>{words.level}</strong>
      </p>
      <p class="clearing">{words.lasting}</p>
      <p class="amount-basis">{words.basis}</p>
      {words.overnight !== null && <p class="overnight">{words.overnight}</p>}
      {levels.length > 0 && <LevelsAhead levels={levels} limitPct={def.limitPct} />}
    </>
  );
}

interface LevelsProps {
  readonly levels: DefOutlookAnswer['levelsAhead'];
  readonly limitPct: number;
}

const plotHeight = 100;
const plotWidth = 240;

/** Level over engine hours to come, with the band that nine of ten cases stay in. */
function LevelsAhead({ levels, limitPct }: LevelsProps) {
  const isTable = useSignal(false);
  const toggleTable = () => {
    isTable.value = !isTable.value;
  };
  const lastHours = levels[levels.length - 1]?.hours ?? 1;
  const at = (hours: number, pct: number) =>
    `${((hours / lastHours) * plotWidth).toFixed(1)} ${(plotHeight - pct).toFixed(1)}`;
  const line = levels.map(({ hours, levelPct }) => at(hours, levelPct)).join('L');
  const upper = levels.map(({ hours, highPct }) => at(hours, highPct)).join('L');
  const lower = [...levels]
    .reverse()
    .map(({ hours, lowPct }) => at(hours, lowPct))
    .join('L');
  return (
    <div class="levels-ahead">
      <div class="levels-plot">
        <svg
          viewBox={`0 0 ${plotWidth} ${plotHeight}`}
          preserveAspectRatio="none"
          role="img"
          aria-label="DEF level over engine hours to come; the table holds the same"
        >
          <path class="level-band" d={`M${upper}L${lower}Z`} />
          <path class="level-line" d={`M${line}`} />
          <path class="level-limit" d={`M${at(0, limitPct)}L${at(lastHours, limitPct)}`} />
          <path class="bed" d={`M0 ${plotHeight}H${plotWidth}`} />
        </svg>
      </div>
      <div class="levels-scale" aria-hidden="true">
        <span>now</span>
        <span>{lastHours} engine hours</span>
      </div>
      <button type="button" class="plain" aria-expanded={isTable.value} onClick={toggleTable}>
        {isTable.value ? 'Hide table' : 'Show as table'}
      </button>
      {isTable.value && (
        <table class="figures">
          <thead>
            <tr>
              <th scope="col">Engine hours</th>
              <th scope="col">Level</th>
              <th scope="col">Nine of ten within</th>
            </tr>
          </thead>
          <tbody>
            {levels.map(({ hours, levelPct, lowPct, highPct }) => (
              <tr key={hours}>
                <th scope="row">{hours}</th>
                <td>{Math.round(levelPct)} %</td>
                <td>
                  {Math.round(lowPct)} to {Math.round(highPct)} %
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </div>
  );
}

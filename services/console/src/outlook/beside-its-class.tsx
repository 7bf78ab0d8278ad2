import { useSignal } from '@preact/signals';
import type { Comparison, MachineDetail } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { formatDay, zoneOf } from '../format/instant.js';
import { type ComparedFigure, figureName, figureValue, standingWords } from '../format/outlook-words.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { tableRoles } from '../parts/table-roles.js';
import { units, zoneChoice } from '../routing/choices.js';

/** The last week beside machines of the same class and work, and the days from which a figure changed. */
export function BesideItsClass({ detail }: { readonly detail: MachineDetail }) {
  const tries = useSignal(0);
  const retry = () => {
    tries.value += 1;
  };
  const { machineId } = detail;
  const answer = useCall(
    (signal) => api.getMachineComparison({ path: { machineId }, signal }),
    `${machineId} ${hourOf(detail.lastSampleAt)} ${tries.value}`,
  ).value;
  return (
    <section class="beside" aria-labelledby="beside-title">
      <h2 id="beside-title">
        Beside its like <span class="head-note">last 7 days{answer?.ok === true ? `, ${answer.body.group}` : ''}</span>
      </h2>
      {answer === null && <LoadingNote what="the comparison" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={retry} />}
      {answer?.ok === true && <Figures comparison={answer.body} detail={detail} />}
    </section>
  );
}

/** A week's figures hardly move within an hour, and they cost the server the rows of a whole class. */
function hourOf(instant: string): string {
  return instant.slice(0, 13);
}

function Figures({ comparison, detail }: { readonly comparison: Comparison; readonly detail: MachineDetail }) {
  const timeZone = zoneOf(zoneChoice.value, detail.timeZone);
  return (
    <>
      <table class="figures beside-figures" {...tableRoles.table} aria-label="Beside its like">
        <thead>
          <tr>
            <th scope="col">What</th>
            <th scope="col">This machine</th>
            <th scope="col">Middle half of its like</th>
            <th scope="col">Its place</th>
            <th scope="col">Changed</th>
          </tr>
        </thead>
        <tbody {...tableRoles.rowGroup}>
          {comparison.figures.map((figure) => (
            <tr key={figure.name} class={`standing-${figure.standing}`} {...tableRoles.row}>
              <th scope="row" {...tableRoles.rowHeader}>
                {figureName(figure.name)}
              </th>
              <Cell label="This machine" words={figureValue(figure.name, figure.value, units.value)} />
              <Cell label="Middle half of its like" words={middleHalf(figure)} />
              <Cell label="Its place" words={standingWords(figure)} />
              <Cell label="Changed" words={changeWords(figure, timeZone)} />
            </tr>
          ))}
        </tbody>
      </table>
      <p class="quiet">
        Held against {comparison.peers} other machine{comparison.peers === 1 ? '' : 's'} of its class
        {comparison.hasMorePeers ? ', not all of them' : ''}, as far as they did like work. A day of change is a day to
        look at, no proof.
      </p>
    </>
  );
}

function Cell({ label, words }: { readonly label: string; readonly words: string }) {
  return (
    <td {...tableRoles.cell}>
      <span class="card-label">{label} </span>
      {words}
    </td>
  );
}

function middleHalf({ name, lowerQuartile, upperQuartile }: ComparedFigure): string {
  if (lowerQuartile === null || upperQuartile === null) return '–';
  return `${figureValue(name, lowerQuartile, units.value)} to ${figureValue(name, upperQuartile, units.value)}`;
}

function changeWords({ name, change }: ComparedFigure, timeZone: string): string {
  if (change === null) return '–';
  const value = (mean: number) => figureValue(name, mean, units.value);
  const day = formatDay(Date.parse(change.since), timeZone);
  return `${day}: from ${value(change.meanBefore)} to ${value(change.meanAfter)}`;
}

import type { ShiftDocument } from '@warmbrick/contracts';
import type { ComponentChildren } from 'preact';
import { formatDuration, formatHours } from '../format/duration.js';
import { formatClock, formatDay } from '../format/instant.js';
import { formatQuantity } from '../format/unit-system.js';
import { CautionNote } from '../parts/caution-note.js';
import { units } from '../routing/choices.js';
import { InspectionForm } from './inspection-form.js';
import { isPoor, startWords, stopWords } from './shift-words.js';

interface ShiftCardProps {
  readonly shift: ShiftDocument;
  readonly machineId: string;
  readonly timeZone: string;
  readonly reload: () => void;
}

/** One shift: what it was like, what could have been done better, and what was looked at. */
export function ShiftCard({ shift, machineId, timeZone, reload }: ShiftCardProps) {
  const startMs = Date.parse(shift.startedAt);
  const clock = (instant: string) => formatClock(Date.parse(instant), timeZone);
  const poor = [...shift.starts, ...shift.stops].filter(({ grade }) => isPoor(grade)).length;
  return (
    <section class="shift" aria-label={`Shift ${shift.name} of ${formatDay(startMs, timeZone)}`}>
      <div class="section-head">
        <h2>
          {formatDay(startMs, timeZone)}, {shift.name}{' '}
          <span class="head-note">
            {clock(shift.startedAt)}–{clock(shift.endedAt)}
            {!shift.isOver && ', still to come in full'}
          </span>
        </h2>
        <Verdict ratio={shift.wellDoneRatio} />
      </div>
      <dl class="shift-sums">
        <Sum name="Ran" value={formatHours(shift.residency.runningS)} />
        <Sum name="Idled" value={formatHours(shift.residency.idleS)} />
        <Sum name="Too cold" value={formatHours(shift.residency.belowS)} />
        <Sum
          name={shift.isOver ? 'DEF at the end' : 'DEF now'}
          value={shift.defLevelEndPct === null ? 'not sent' : `${shift.defLevelEndPct} %`}
        />
      </dl>
      <div class="shift-lists">
        <Steps title="Starts" none="No start in this shift.">
          {shift.starts.map((start) => (
            <Step key={start.at} at={clock(start.at)} isPoor={isPoor(start.grade)} words={startWords(start)} />
          ))}
        </Steps>
        <Steps title="Stops" none="No stop in this shift.">
          {shift.stops.map((stop) => (
            <Step key={stop.at} at={clock(stop.at)} isPoor={isPoor(stop.grade)} words={stopWords(stop)} />
          ))}
        </Steps>
        <Steps title="Long idles" none="None over the limit.">
          {shift.idles.map((idle) => (
            <Step
              key={idle.startedAt}
              at={clock(idle.startedAt)}
              isPoor
              words={`${formatDuration(idle.durationS)}${idle.fuelL === null ? '' : `, ${formatQuantity(idle.fuelL, 'L', units.value)} of fuel`}`}
            />
          ))}
        </Steps>
        <Steps title="DEF filled" none="No fill in this shift.">
          {shift.fills.map((fill) => (
            <Step
              key={fill.at}
              at={clock(fill.at)}
              isPoor={(fill.levelAfterPct ?? 0) > 93}
              words={`${fill.litres === null ? 'some' : formatQuantity(fill.litres, 'L', units.value)}${fill.levelAfterPct === null ? '' : `, to ${fill.levelAfterPct} %`}`}
            />
          ))}
        </Steps>
      </div>
      {poor > 0 && <CautionNote />}
      <InspectionForm {...{ shift, machineId, timeZone, reload }} />
    </section>
  );
}

function Verdict({ ratio }: { readonly ratio: number | null }) {
  if (ratio === null) return <p class="quiet">No start or stop was seen</p>;
  return <p class="shift-verdict">{Math.round(ratio * 100)} % of starts and stops as wanted</p>;
}

function Sum({ name, value }: { readonly name: string; readonly value: string }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>{value}</dd>
    </div>
  );
}

interface StepsProps {
  readonly title: string;
  readonly none: string;
  readonly children: ComponentChildren[];
}

function Steps({ title, none, children }: StepsProps) {
  return (
    <div class="shift-list">
      <h3>{title}</h3>
      {children.length === 0 ? <p class="quiet">{none}</p> : <ol>{children}</ol>}
    </div>
  );
}

interface StepProps {
  readonly at: string;
  readonly isPoor: boolean;
  readonly words: string;
}

/** A poor one has a sign of its own beside the words. */
function Step({ at, isPoor: poor, words }: StepProps) {
  return (
    <li class={poor ? 'step step-poor' : 'step'}>
      <span class="step-at">{at}</span>
      <span>
        {poor && <strong>To do better: </strong>}
        {words}
      </span>
    </li>
  );
}

import type { DerateDetail, DerateItem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { useCall } from '../api/use-call.js';
import { formatInstant } from '../format/instant.js';
import { CautionNote } from '../parts/caution-note.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { ClockTable } from './clock-table.js';
import { CourseOfFaults } from './course-of-faults.js';
import { derateFigures, lengthWords, levelWords, ongoingWords, signWords, verdictWords } from './derate-words.js';
import { OriginCard } from './origin-card.js';
import { SignalStrip } from './signal-strip.js';
import { ToDo } from './to-do.js';

interface DerateViewProps {
  readonly item: DerateItem;
  readonly machineId: string;
  readonly timeZone: string;
  /** When the machine was last heard of. */
  readonly seenMs: number;
  readonly version: number;
}

/** One derate: what is known of it now, and as more is heard. */
export function DerateView({ item, machineId, timeZone, seenMs, version }: DerateViewProps) {
  const path = { derateId: item.id };
  const answer = useCall((signal) => api.getDerate({ path, signal }), `${item.id} ${version}`).value;
  if (answer === null) return <LoadingNote what="the inquiry" />;
  if (!answer.ok) return <ProblemNote problem={answer.problem} retry={() => location.reload()} />;
  const derate = answer.body;
  return (
    <>
      <DerateHead derate={derate} timeZone={timeZone} seenMs={seenMs} />
      {derate.inquiry !== null && (
        <Inquiry derate={derate} inquiry={derate.inquiry} timeZone={timeZone} seenMs={seenMs} />
      )}
      <SignalStrip machineId={machineId} derate={derate} timeZone={timeZone} />
      <ClockTable clocks={derate.clocks} timeZone={timeZone} />
      <History history={derate.history} timeZone={timeZone} />
    </>
  );
}

interface HeadProps {
  readonly derate: DerateDetail;
  readonly timeZone: string;
  readonly seenMs: number;
}

function DerateHead({ derate, timeZone, seenMs }: HeadProps) {
  const now = nowMs.peek();
  const { startedAt, endedAt, level, signs, inquiry } = derate;
  const figures = derateFigures(derate);
  return (
    <section class="derate-head" aria-labelledby="derate-title">
      <h2 id="derate-title">
        {formatInstant(Date.parse(startedAt), timeZone, now)}
        {endedAt === null
          ? `, ${ongoingWords(seenMs, now)}`
          : ` to ${formatInstant(Date.parse(endedAt), timeZone, now)}`}
        <span class="head-note"> {lengthWords(derate, seenMs)}</span>
      </h2>
      <p class="derate-summary">
        <b>{verdictWords(inquiry)}.</b> {inquiry?.summary ?? 'An answer follows in a moment.'}
      </p>
      {inquiry !== null && <p>Confidence {Math.round(inquiry.confidence * 100)} %.</p>}
      <p class="quiet">
        Power: {levelWords(level)}. Seen because {signWords(signs)}.
        {derate.isWithdrawn && ' A later analysis found that it was no derate.'}
      </p>
      {figures.length > 0 && (
        <dl class="derate-figures">
          {figures.map(([label, text]) => (
            <div key={label}>
              <dt>{label}</dt>
              <dd>{text}</dd>
            </div>
          ))}
        </dl>
      )}
    </section>
  );
}

interface InquiryProps {
  readonly derate: DerateDetail;
  readonly inquiry: NonNullable<DerateDetail['inquiry']>;
  readonly timeZone: string;
  readonly seenMs: number;
}

function Inquiry({ derate, inquiry, timeZone, seenMs }: InquiryProps) {
  const origins = inquiry.origins.filter(({ isOrigin }) => isOrigin);
  const others = inquiry.origins.filter(({ isOrigin }) => !isOrigin);
  return (
    <>
      {inquiry.origins.length > 0 && (
        <CourseOfFaults derate={derate} origins={inquiry.origins} timeZone={timeZone} seenMs={seenMs} />
      )}
      <section aria-labelledby="origin-title">
        <h2 id="origin-title">Where it came from</h2>
        {inquiry.origins.length === 0 && <p>No fault that was told of can lead to such a derate.</p>}
        {origins.length === 0 && others.length > 0 && (
          <p>None of the faults explains it well enough to be called its origin. These could have begun it:</p>
        )}
        {[...origins, ...others].map((origin) => (
          <OriginCard key={origin.faultId} origin={origin} timeZone={timeZone} />
        ))}
      </section>
      <div class="pair">
        <ToDo inquiry={inquiry} />
        <section aria-labelledby="do-not-title">
          <h2 id="do-not-title">What not to do</h2>
          <ul class="bricked">
            {inquiry.doNot.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
          <CautionNote />
        </section>
      </div>
    </>
  );
}

function History({ history, timeZone }: { readonly history: DerateDetail['history']; readonly timeZone: string }) {
  if (history.length < 2) return null;
  const now = nowMs.peek();
  return (
    <section aria-labelledby="history-title">
      <h2 id="history-title">
        How the answer changed <span class="head-note">as more was heard</span>
      </h2>
      <ol class="derate-history">
        {[...history].reverse().map(({ revision, madeAt, changes, summary }) => (
          <li key={revision}>
            <span class="quiet">{formatInstant(Date.parse(madeAt), timeZone, now)}</span> {summary}
            {changes.length > 0 && (
              <ul class="bricked">
                {changes.map((change) => (
                  <li key={change}>{change}</li>
                ))}
              </ul>
            )}
          </li>
        ))}
      </ol>
    </section>
  );
}

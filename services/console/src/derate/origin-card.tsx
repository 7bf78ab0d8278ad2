import type { EvidenceDocument, OriginDocument } from '@warmbrick/contracts';
import { nowMs } from '../api/server-clock.js';
import { formatInstant } from '../format/instant.js';
import { valueWords } from '../format/value-words.js';
import { units } from '../routing/choices.js';
import { classWords, likelihoodWords, wordsFrom } from './derate-words.js';
import { LikelihoodCourse } from './likelihood-course.js';

interface OriginCardProps {
  readonly origin: OriginDocument;
  readonly timeZone: string;
}

/** One fault that could have begun it, with what speaks for and against. */
export function OriginCard({ origin, timeZone }: OriginCardProps) {
  const now = nowMs.peek();
  const { spn, fmi, spnWords, fmiWords, startedAt, endedAt, likelihood, isOrigin, evidence, inducementClass } = origin;
  const whose = wordsFrom(origin.wordsFrom);
  const end = endedAt === null ? 'still active' : `until ${formatInstant(Date.parse(endedAt), timeZone, now)}`;
  return (
    <details class={`origin ${isOrigin ? 'is-origin' : ''}`} open={isOrigin}>
      <summary>
        <span class="origin-role">{isOrigin ? 'Origin' : 'Runner-up'}</span>
        <span class="origin-name">
          <b>
            {spnWords}: {fmiWords}
          </b>
          <span class="quiet">
            SPN {spn} FMI {fmi}
            {whose === null ? '' : `, ${whose}`}
          </span>
        </span>
        <span class="origin-likelihood">
          <LikelihoodCourse ratio={likelihood} />
          {likelihoodWords(likelihood)}
        </span>
      </summary>
      <div class="origin-body">
        <p>
          Active from {formatInstant(Date.parse(startedAt), timeZone, now)}, {end}
          {origin.sourceAddress === null ? '' : `; told by controller ${origin.sourceAddress}`}
          {inducementClass === null ? '' : `; leads to: ${classWords(inducementClass)}`}.
        </p>
        <div class="evidence">
          <Evidence
            title="Speaks for it"
            items={evidence.filter(({ supports }) => supports === true)}
            timeZone={timeZone}
          />
          <Evidence
            title="Speaks against it"
            items={evidence.filter(({ supports }) => supports === false)}
            timeZone={timeZone}
          />
          <Evidence title="To know" items={evidence.filter(({ supports }) => supports === null)} timeZone={timeZone} />
        </div>
      </div>
    </details>
  );
}

interface EvidenceProps {
  readonly title: string;
  readonly items: readonly EvidenceDocument[];
  readonly timeZone: string;
}

function Evidence({ title, items, timeZone }: EvidenceProps) {
  if (items.length === 0) return null;
  const view = { units: units.value, timeZone, nowMs: nowMs.peek() };
  return (
    <div>
      <h3>{title}</h3>
      <ul class="bricked">
        {items.map(({ text, figures }) => {
          const told = Object.entries(figures)
            .filter(([name, value]) => typeof value === 'number' && /[A-Z]\w*$/.test(name))
            .map(([name, value]) => valueWords(name, value, view))
            .map(({ label, text: words }) => `${label} ${words}`);
          return (
            <li key={text}>
              {text}
              {told.length > 0 && <span class="quiet"> {told.join(', ')}</span>}
            </li>
          );
        })}
      </ul>
    </div>
  );
}

import { partOrder, partWords } from '../format/score-words.js';
import { brickPitch, courseHeight, coursePaths } from './brick-paths.js';
import type { Brick, BrickKind } from './lay-bricks.js';

const entries: readonly (readonly [BrickKind, string])[] = [
  ['cold', 'below dosing release'],
  ['below', 'below the window'],
  ['in', 'in the window'],
  ['above', 'above it'],
  ['unmeasured', 'running, no temperature'],
  ['unobserved', 'not observed'],
  ['off', 'engine off'],
];

/** Narrower than this the key starts folded. CSS pixels. */
const unfoldedFrom = '(min-width: 901px)';

/** How to read a course. */
export function CourseKey({ withParts }: { readonly withParts?: boolean }) {
  return (
    <details class="course-key" open={matchMedia(unfoldedFrom).matches}>
      <summary>How to read the bricks</summary>
      <p>One column is a quarter hour, as high as the engine ran in it. The bricks say how hot the catalyst was:</p>
      <ul>
        {entries.map(([kind, words]) => (
          <li key={kind}>
            <Sample brick={{ kind, heightRatio: 1, isIdle: false }} />
            {words}
          </li>
        ))}
        <li>
          <Sample brick={{ kind: 'cold', heightRatio: 0.4, isIdle: true }} />
          underlined: mostly idling
        </li>
      </ul>
      {withParts === true && (
        <div>
          <p>The bar under the risk says what the score is made of:</p>
          <ul>
            {partOrder.map((part) => (
              <li key={part}>
                <span class={`part-key part-key-${part}`} aria-hidden="true" />
                {partWords(part).name.toLowerCase()}
              </li>
            ))}
          </ul>
        </div>
      )}
    </details>
  );
}

function Sample({ brick }: { readonly brick: Brick }) {
  const paths = coursePaths([brick, brick, brick]);
  return (
    <svg
      class="key-bricks"
      viewBox={`0 0 ${brickPitch * 3} ${courseHeight + 5}`}
      preserveAspectRatio="none"
      aria-hidden="true"
    >
      <path class="bed" d={`M0 ${courseHeight}h${brickPitch * 3}`} />
      {Object.entries(paths).map(([name, path]) => (
        <path key={name} class={`brick-${name}`} d={path} />
      ))}
    </svg>
  );
}

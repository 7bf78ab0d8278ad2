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

/** How to read a course. */
export function CourseKey() {
  return (
    <div class="course-key">
      <span class="key-title">A brick is a quarter hour, its height how long the engine ran, its build the catalyst temperature:</span>
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
    </div>
  );
}

function Sample({ brick }: { readonly brick: Brick }) {
  const paths = coursePaths([brick, brick, brick]);
  return (
    <svg class="key-bricks" viewBox={`0 0 ${brickPitch * 3} ${courseHeight + 5}`} preserveAspectRatio="none" aria-hidden="true">
      <path class="bed" d={`M0 ${courseHeight}h${brickPitch * 3}`} />
      {Object.entries(paths).map(([name, path]) => (
        <path key={name} class={`brick-${name}`} d={path} />
      ))}
    </svg>
  );
}

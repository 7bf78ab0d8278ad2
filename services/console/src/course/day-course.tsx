import type { DayStrip, MachineItem } from '@warmbrick/contracts';
import { formatDuration } from '../format/duration.js';
import { brickPitch, courseHeight, coursePaths } from './brick-paths.js';
import { hourMarks } from './hour-marks.js';
import { type Brick, layBricks } from './lay-bricks.js';

interface DayCourseProps {
  readonly day: DayStrip;
  readonly residency: MachineItem['residency'];
  readonly timeZone: string;
}

/** The last 24 hours as bricks, in two halves that stand side by side where there is room and stack where not. */
export function DayCourse({ day, residency, timeZone }: DayCourseProps) {
  const bricks = layBricks(day);
  const half = Math.ceil(bricks.length / 2);
  const startedMs = Date.parse(day.startedAt);
  return (
    <div class="course" role="img" aria-label={courseWords(residency)}>
      {[0, half].map((first) => (
        <HalfCourse
          key={first}
          bricks={bricks.slice(first, first + half)}
          places={half}
          startedMs={startedMs + first * day.bucketS * 1000}
          bucketS={day.bucketS}
          timeZone={timeZone}
        />
      ))}
    </div>
  );
}

interface HalfCourseProps {
  readonly bricks: readonly Brick[];
  readonly places: number;
  readonly startedMs: number;
  readonly bucketS: number;
  readonly timeZone: string;
}

function HalfCourse({ bricks, places, startedMs, bucketS, timeZone }: HalfCourseProps) {
  const width = places * brickPitch;
  const marks = hourMarks(startedMs, bucketS, bricks.length, timeZone);
  return (
    <div class="half-course">
      <svg viewBox={`0 0 ${width} ${courseHeight + 5}`} preserveAspectRatio="none" aria-hidden="true">
        {marks.map((mark) => (
          <path key={mark.label} class="hour-line" d={`M${mark.positionRatio * width} 0V${courseHeight}`} />
        ))}
        <path class="bed" d={`M0 ${courseHeight}h${bricks.length * brickPitch}`} />
        {Object.entries(coursePaths(bricks)).map(([name, path]) => (
          <path key={name} class={`brick-${name}`} d={path} />
        ))}
      </svg>
      <div class="hour-labels" aria-hidden="true">
        {marks.map((mark) => (
          <span
            key={mark.label}
            class={mark.isMidnight ? 'midnight' : ''}
            style={{ left: `${mark.positionRatio * 100}%` }}
          >
            {mark.label.slice(0, 2)}
          </span>
        ))}
      </div>
    </div>
  );
}

function courseWords(sums: MachineItem['residency']): string {
  const said = [
    `running ${formatDuration(sums.runningS)}`,
    `idling ${formatDuration(sums.idleS)}`,
    `below the window ${formatDuration(sums.belowS)}`,
    `in the window ${formatDuration(sums.inS)}`,
    `above it ${formatDuration(sums.aboveS)}`,
    `not observed ${formatDuration(sums.unobservedS)}`,
  ];
  return `Last 24 hours: ${said.join(', ')}.`;
}

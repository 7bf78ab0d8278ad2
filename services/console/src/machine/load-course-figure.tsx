import { cleanRatio } from '../format/load-words.js';
import { courseReach, loadCourse, loadCourseHeight } from './load-course.js';

interface LoadCourseFigureProps {
  readonly ratio: number;
  readonly doubtRatio: number | null;
  readonly look: 'soot-load' | 'deposits';
}

/** Bricks laid up to a limit, with a post at the limit and a notch where it starts to count as clean. Words stand beside it. */
export function LoadCourseFigure({ ratio, doubtRatio, look }: LoadCourseFigureProps) {
  const course = loadCourse(ratio, doubtRatio);
  const cleanAt = cleanRatio * 100;
  return (
    <div class="load-course">
      <svg viewBox={`0 0 ${courseReach} ${loadCourseHeight + 3}`} preserveAspectRatio="none" aria-hidden="true">
        <path class="load-open" d={course.open} />
        <path class={`load-laid part-${look}`} d={course.laid} />
        <path class="load-over" d={course.over} />
        {course.doubt !== null && <path class="load-doubt" d={course.doubt} />}
        <path class="bed" d={`M0 ${loadCourseHeight}H${courseReach}`} />
        <path class="load-notch" d={`M${cleanAt} ${loadCourseHeight}v3`} />
        <path class="load-post" d={`M100 3V${loadCourseHeight + 3}`} />
      </svg>
      <div class="load-labels" aria-hidden="true">
        <span>clean</span>
        <span class="load-limit" style={{ left: `${(100 / courseReach) * 100}%` }}>
          limit
        </span>
      </div>
    </div>
  );
}

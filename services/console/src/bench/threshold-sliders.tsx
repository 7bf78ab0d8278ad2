import type { ThresholdName, ThresholdNote } from '@warmbrick/tuning';
import { thresholdNotes } from '@warmbrick/tuning';
import type { BenchStore } from './bench-store.js';
import type { ThresholdGroup } from './threshold-groups.js';

/** Steps of a slider. A number of another size can be typed beside it. */
const sliderSteps = 400;

interface SlidersProps {
  readonly group: ThresholdGroup;
  readonly store: BenchStore;
}

/** A slider and a field for each threshold of a group; what was moved can be put back. */
export function ThresholdSliders({ group, store }: SlidersProps) {
  return (
    <div class="sliders">
      {group.thresholds.map(({ name, words }) => {
        const note = thresholdNotes.find((one) => one.name === name);
        return note === undefined ? null : <Slider key={name} note={note} words={words} store={store} />;
      })}
    </div>
  );
}

interface SliderProps {
  readonly note: ThresholdNote;
  readonly words: string;
  readonly store: BenchStore;
}

function Slider({ note, words, store }: SliderProps) {
  const { name, min, max, unit, source } = note;
  const before = store.before.value.values[name];
  const value = store.moved.value[name] ?? before;
  const isMoved = value !== before;
  const take = (next: number) => {
    if (Number.isFinite(next) && next >= min && next <= max) store.move(name, next === before ? null : next);
  };
  const scale = scaleOf(note, before);
  return (
    <div class={isMoved ? 'slider slider-moved' : 'slider'}>
      <label for={`slide-${name}`}>{words}</label>
      <input
        id={`slide-${name}`}
        type="range"
        min={0}
        max={sliderSteps}
        step={1}
        value={scale.toStep(value)}
        aria-valuetext={`${value} ${unitWords(unit)}`}
        onInput={(event) => take(scale.fromStep(Number(event.currentTarget.value)))}
      />
      <span class="slider-value">
        <input
          type="number"
          aria-label={`${words}, in ${unitWords(unit)}`}
          min={min}
          max={max}
          step="any"
          value={value}
          onChange={(event) => take(Number(event.currentTarget.value))}
        />
        <span>{unitWords(unit)}</span>
      </span>
      <p class="quiet" title={source}>
        {isMoved ? `before ${before}; ` : ''}
        {min} to {max}
        {isMoved && (
          <button type="button" class="plain" onClick={() => store.move(name as ThresholdName, null)}>
            Put back
          </button>
        )}
      </p>
    </div>
  );
}

interface SliderScale {
  toStep(value: number): number;
  fromStep(step: number): number;
}

/**
 * The slider spends its way where it is wanted: from the lower bound to four times the present value; beyond that the field
 * takes any number within the bounds.
 */
function scaleOf({ min, max }: ThresholdNote, before: number): SliderScale {
  const top = before > min ? Math.min(max, min + 4 * (before - min)) : max;
  const grain = 10 ** Math.floor(Math.log10((top - min) / sliderSteps || 1));
  return {
    toStep: (value) => Math.round(((Math.min(top, value) - min) / (top - min)) * sliderSteps),
    fromStep: (step) => {
      const raw = min + ((top - min) * step) / sliderSteps;
      const rounded = Number((Math.round(raw / grain) * grain).toPrecision(10));
      return Math.min(max, Math.max(min, rounded));
    },
  };
}

/** Units as people write them. */
function unitWords(unit: string): string {
  const words: Readonly<Record<string, string>> = { degC: '°C', '1': '(share)', 's/K': 's per K' };
  return words[unit] ?? unit;
}

/** Operator habits: how a shift is started, worked, paused and ended. */

export const habits = ['careful', 'idler', 'hurried', 'light-duty', 'cold-starter'] as const;
export type Habit = (typeof habits)[number];

/** Lowest and highest value, drawn anew each time. */
export type Span = readonly [low: number, high: number];

export interface HabitTraits {
  /** From key-on to the first load. */
  readonly warmUpS: Span;
  readonly workS: Span;
  readonly workLoadPct: Span;
  /** Share of the working stretches that are light duty. */
  readonly lightRatio: number;
  /** Waiting at idle between two working stretches. */
  readonly pauseS: Span;
  /** Chance that a pause turns into a very long one. */
  readonly longPauseRatio: number;
  readonly longPauseS: Span;
  /** Whether the engine is off over the meal break, or idles through it. */
  readonly isOffAtBreak: boolean;
  readonly breakS: Span;
  readonly coolDownS: Span;
  /** DEF level at which the tank is filled before a shift. */
  readonly fillBelowPct: number;
}

/** Traits of each habit. Source: engineering judgement, around the trade's good practice and its opposites. */
export const traitsByHabit: Readonly<Record<Habit, HabitTraits>> = {
  careful: {
    warmUpS: [420, 700],
    workS: [1500, 3600],
    workLoadPct: [66, 80],
    lightRatio: 0.1,
    pauseS: [60, 240],
    longPauseRatio: 0,
    longPauseS: [0, 0],
    isOffAtBreak: true,
    breakS: [1800, 2700],
    coolDownS: [310, 420],
    fillBelowPct: 40,
  },
  idler: {
    warmUpS: [600, 1200],
    workS: [900, 2400],
    workLoadPct: [58, 74],
    lightRatio: 0.25,
    pauseS: [300, 1200],
    longPauseRatio: 0.35,
    longPauseS: [3900, 6600],
    isOffAtBreak: false,
    breakS: [2700, 4200],
    coolDownS: [320, 900],
    fillBelowPct: 25,
  },
  hurried: {
    warmUpS: [200, 420],
    workS: [2400, 4500],
    workLoadPct: [74, 88],
    lightRatio: 0.05,
    pauseS: [40, 150],
    longPauseRatio: 0,
    longPauseS: [0, 0],
    isOffAtBreak: true,
    breakS: [1500, 2100],
    coolDownS: [5, 70],
    fillBelowPct: 14,
  },
  'light-duty': {
    warmUpS: [300, 600],
    workS: [900, 2400],
    workLoadPct: [42, 52],
    lightRatio: 0.8,
    pauseS: [180, 900],
    longPauseRatio: 0.05,
    longPauseS: [3700, 4500],
    isOffAtBreak: true,
    breakS: [1800, 2700],
    coolDownS: [300, 480],
    fillBelowPct: 30,
  },
  'cold-starter': {
    warmUpS: [25, 70],
    workS: [1800, 3600],
    workLoadPct: [66, 82],
    lightRatio: 0.1,
    pauseS: [60, 300],
    longPauseRatio: 0,
    longPauseS: [0, 0],
    isOffAtBreak: true,
    breakS: [1800, 3000],
    coolDownS: [120, 360],
    fillBelowPct: 30,
  },
};

/** Truth labels: what really happened, said by the machine itself and not by any analysis of its signals. */

/** Every event is complete: it is given once it has ended. */
export type TruthEvent =
  | {
      readonly kind: 'engine-run';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly durationS: number;
      readonly coolantAtStartC: number;
    }
  | {
      /** From the first idle second until load or raised speed that lasts, or the stop. */
      readonly kind: 'idle-streak';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly durationS: number;
      readonly isOverLimit: boolean;
    }
  | {
      /** How an engine run ended. */
      readonly kind: 'stop';
      readonly startedMs: number;
      readonly endedMs: number;
      /** Time at base idle without load since the last load; null in a run without any. */
      readonly coolDownS: number | null;
      readonly turbineMetalTempC: number;
      /** Turbine metal at the last load; null in a run without any. */
      readonly metalAtLoadC: number | null;
      readonly grade: StopGrade;
    }
  | {
      /** Load that came too early into a cold run: the time is that of the load. */
      readonly kind: 'early-load';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly runStartedMs: number;
      readonly afterStartS: number;
      readonly coolantAtStartC: number;
    }
  | {
      /** No sample for longer than the sample period while the key was on: from the last sample to the next. */
      readonly kind: 'gap';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly durationS: number;
      /** Whether the engine runs at the end of the gap. */
      readonly isRunning: boolean;
    };

/** `cool` had a cool-down that was long enough, or a turbine too cold to need one; the others are hot stops. */
export type StopGrade = 'cool' | 'short' | 'severe';

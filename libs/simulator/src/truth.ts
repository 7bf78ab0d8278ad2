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
    }
  | AftertreatmentEvent
  | {
      /** A sensor that did not measure what it should. */
      readonly kind: 'sensor-fault';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly channel: string;
      readonly fault: string;
    };

/** What only machines with `aftertreatment` tell. */
type AftertreatmentEvent =
  | {
      /** An active regeneration. */
      readonly kind: 'regeneration';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly end: RegenerationEnd;
      readonly sootBeforePct: number;
      readonly sootAfterPct: number;
      readonly peakTempC: number;
    }
  | {
      /** The operator's switch kept active regeneration from running. */
      readonly kind: 'regeneration-inhibited';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly sootAtStartPct: number;
      readonly sootAtEndPct: number;
    }
  | {
      /** A regeneration was needed and had not begun. */
      readonly kind: 'regeneration-wait';
      readonly startedMs: number;
      readonly endedMs: number;
      /** Engine running in it, and of that with the switch on inhibit. */
      readonly runningS: number;
      readonly inhibitedS: number;
    }
  | {
      /** The tank as the engine stopped. */
      readonly kind: 'def-parked';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly levelPct: number;
      readonly tankTempC: number;
      readonly airTempC: number;
    }
  | {
      readonly kind: 'def-fill';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly litres: number;
      readonly levelBeforePct: number;
      readonly levelAfterPct: number;
      readonly batchId: string;
      readonly batchUreaRatio: number;
    }
  | {
      /** DEF that left the tank and was not dosed. */
      readonly kind: 'def-drop';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly litres: number;
    }
  | {
      /** Of the tank: less than 10 %, slosh or not; DEF outside ISO 22241-1; ice. */
      readonly kind: 'def-low' | 'def-quality' | 'def-frost';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly levelAtStartPct: number;
      readonly ureaRatio: number;
    }
  | {
      /** A hot catalyst converts far less than a sound one would; starts with the first hot second of it. */
      readonly kind: 'nox-loss';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly cause: NoxLossCause;
    }
  | {
      /** Urea deposits are in the way of the spray. */
      readonly kind: 'blockage';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly depositsG: number;
    }
  | {
      /** The air filter is past 5 kPa at rated flow, where it is usually changed; `usedRatio` at the end, 1 is 6.2 kPa. */
      readonly kind: 'air-filter';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly usedRatio: number;
    }
  | {
      /** Less torque than the engine has, and the fault that began it. */
      readonly kind: 'derate';
      readonly startedMs: number;
      readonly endedMs: number;
      readonly cause: DerateCause;
      readonly origin: { readonly spn: number; readonly fmi: number };
      readonly originStartedMs: number;
      readonly lowestTorquePct: number;
    };

/** How a regeneration ended; all but `complete` leave soot behind. */
export type RegenerationEnd = 'complete' | 'time-out' | 'key-off' | 'inhibited' | 'too-cold';

export type NoxLossCause = 'dosing' | 'blockage' | 'def-quality' | 'wear';

export type DerateCause = 'def-level' | 'def-quality' | 'dosing' | 'frozen' | 'blockage' | 'conversion' | 'soot';

/** `cool` had a cool-down that was long enough, or a turbine too cold to need one; the others are hot stops. */
export type StopGrade = 'cool' | 'short' | 'severe';

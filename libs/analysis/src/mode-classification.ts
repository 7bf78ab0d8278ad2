/** Operating mode of each sample by itself. */

import type { MachineProfile } from '@warmbrick/signals';
import { modeCode } from './observed-block.js';
import type { SampleWindow } from './sample-window.js';

/**
 * Writes the mode of each sample of the window.
 *
 * Running is from `runningRpm`; idle is running, up to `idleBandRpm` above base idle and under the no-load limit; working
 * from `workingLoadPct`; light is what lies between.
 * Missing: without a usable speed a sample is unobserved; without a load the speed alone decides.
 */
export function classifySamples(profile: MachineProfile, window: SampleWindow): void {
  const { length, rpm, load, mode } = window;
  const { runningRpm, noLoadPct, workingLoadPct } = profile;
  const idleTopRpm = profile.baseIdleRpm + profile.idleBandRpm;
  for (let i = 0; i < length; i++) {
    const speed = rpm[i] as number;
    const loadPct = load[i] as number;
    let code: number = modeCode.unobserved;
    if (speed >= runningRpm) {
      if (speed <= idleTopRpm && !(loadPct >= noLoadPct)) code = modeCode.idle;
      else code = loadPct >= workingLoadPct ? modeCode.working : modeCode.light;
    } else if (speed >= 0) {
      code = speed > 0 ? modeCode.cranking : modeCode.off;
    }
    mode[i] = code;
  }
}

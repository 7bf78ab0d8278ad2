import { builtInThresholds } from '@warmbrick/analysis';
import { defaultProfile, machineProfileSchema, profileWindow } from '@warmbrick/signals';
import { describe, expect, it } from 'vitest';

// Source of each: common practice on off-road diesels with SCR; a manufacturer's manual stands above every one of them.
describe('common practice', () => {
  it('catalyst window: exhaust 350-450 C, that is 660-840 F', () => {
    const window = profileWindow(defaultProfile);
    expect(window).toEqual({ lowC: 350, highC: 450 });
    expect(Math.round((window.lowC * 1.8 + 32) / 20) * 20).toBe(660);
    expect(Math.round((window.highC * 1.8 + 32) / 20) * 20).toBe(840);
  });

  it('idling: not over one hour at a stretch', () => {
    expect(builtInThresholds.values.idleLimitS).toBe(3600);
  });

  it('shutdown: about five minutes at base idle, 950 rpm, without load', () => {
    expect(builtInThresholds.values.cooldownWantedS).toBe(300);
    expect(defaultProfile.baseIdleRpm).toBe(950);
  });

  it('every default names its source and unit', () => {
    for (const [name, schema] of Object.entries(machineProfileSchema.shape)) {
      const isNumber = typeof defaultProfile[name as keyof typeof defaultProfile] === 'number';
      if (isNumber) expect(schema.meta()?.source, name).toBeTruthy();
    }
  });
});

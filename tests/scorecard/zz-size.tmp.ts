import { builtInThresholds, createAnalyzer } from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import { createSimulation, variedFleet } from '@warmbrick/simulator';
let most = 0;
for (const machine of variedFleet({ machines: 6, days: 3, seed: 5 })) {
  const startMs = Date.UTC(2026, 0, 11, 23);
  const sim = createSimulation(machine, { seed: 5, startMs });
  const an = createAnalyzer({ machineId: machine.machineId, profile: machineProfileSchema.parse(machine.profile), thresholds: builtInThresholds });
  for (let h = 1; h <= 60; h++) { const b = sim.advanceTo(startMs + h * 3600_000); if (b) an.push(b); most = Math.max(most, JSON.stringify(an.snapshot()).length); }
}
console.log(most);

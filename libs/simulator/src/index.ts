export type {
  AftertreatmentOptions,
  DefBatch,
  DefDrop,
  DefFill,
  InducementHours,
  Stretch,
} from './aftertreatment/options.js';
export type { Climate } from './climate.js';
export { type ClockDrift, type DeliveryFaults, deliver, type Packet } from './delivery.js';
export type { CycleSegment, DutySegment, IdleSegment, LoadSegment, OffSegment, StartSegment } from './duty.js';
export { type CycleSpeeds, type DutyCycleName, dutyCycle, dutyCycles, usualCycleSpeeds } from './duty-cycles.js';
export {
  airFuelRatio,
  type EnginePoint,
  type EngineSize,
  exhaustFlowKgPerH,
  fuelLPerH,
  steadyExhaustTempC,
} from './exhaust-gas.js';
export {
  type CaseMechanism,
  caseMechanisms,
  type DerateCase,
  type DerateTruth,
  type ScheduleFamily,
} from './faults/derate-case.js';
export { makeDerateCase } from './faults/make-derate-case.js';
export type { Gateway, SensorFault } from './gateway.js';
export { type Habit, habits } from './habits.js';
export { quarryDozer } from './quarry-dozer.js';
export { quarryFleet } from './quarry-fleet.js';
export { createRandom, type Random, seedFrom } from './random.js';
export { type SimulatedChannel, simulatedChannels } from './readings.js';
export type { SimulatedMachine } from './simulated-machine.js';
export { createSimulation, type Simulation } from './simulation.js';
export { type LumpStep, stepLump } from './thermal-lump.js';
export type { DerateCause, NoxLossCause, RegenerationEnd, StopGrade, TruthEvent } from './truth.js';
export { type FleetPlan, variedFleet } from './varied-fleet.js';

/** Standard parameter numbers that matter for aftertreatment and derates, in words of our own. */

import type { ChannelName } from '@warmbrick/signals';
import type { InducementClass } from './inducement-class.js';

/** How readily a fault takes power: `usually` when it lasts or is severe, `may` on some engines, `never` by itself. */
export const derateLeanings = ['usually', 'may', 'never'] as const;
export type DerateLeaning = (typeof derateLeanings)[number];

/**
 * What a number stands for. `derate` and `inducement` say what is done and `status` what is shown: none of them is ever
 * a cause.
 */
export type SpnRole = 'fault' | 'derate' | 'inducement' | 'status';

export interface KnownSpn {
  readonly spn: number;
  readonly text: string;
  readonly role: SpnRole;
  /** Class when the measured value itself is off (FMI 0, 1, 15-18, 31), and when sensor, circuit or part fails. */
  readonly valueClass: InducementClass | null;
  readonly circuitClass: InducementClass | null;
  readonly value: DerateLeaning;
  readonly circuit: DerateLeaning;
  /** Channel that shows the same quantity. */
  readonly channel: ChannelName | null;
  /** What an inducement number says it is about. */
  readonly saidClass: InducementClass | null;
}

interface More {
  readonly channel?: ChannelName;
  readonly circuit?: readonly [InducementClass | null, DerateLeaning];
  readonly value?: DerateLeaning;
}

/** A quantity: off by value it is of the class; its sensor failing is a failure of monitoring unless said otherwise. */
function measured(spn: number, text: string, valueClass: InducementClass, more: More = {}): KnownSpn {
  const [circuitClass, circuit] = more.circuit ?? ['tampering', 'usually'];
  const value = more.value ?? 'usually';
  return fault({ spn, text, valueClass, circuitClass, value, circuit, channel: more.channel ?? null });
}

/** A part: whatever fails of it is of the class. */
function part(spn: number, text: string, of: InducementClass, leaning: DerateLeaning = 'usually'): KnownSpn {
  return fault({ spn, text, valueClass: of, circuitClass: of, value: leaning, circuit: leaning, channel: null });
}

/** A quantity of the engine: off by value it is protected, its sensor failing may limit it. */
function engine(spn: number, text: string, channel: ChannelName | null = null): KnownSpn {
  return fault({
    spn,
    text,
    valueClass: 'protection',
    circuitClass: 'other',
    value: 'usually',
    circuit: 'may',
    channel,
  });
}

/** Something that takes no power by itself. */
function harmless(spn: number, text: string, channel: ChannelName | null = null): KnownSpn {
  return fault({ spn, text, valueClass: null, circuitClass: null, value: 'never', circuit: 'never', channel });
}

function fault(row: Omit<KnownSpn, 'role' | 'saidClass'>): KnownSpn {
  return { ...row, role: 'fault', saidClass: null };
}

function consequence(spn: number, text: string, role: SpnRole, saidClass: InducementClass | null = null): KnownSpn {
  const none = { valueClass: null, circuitClass: null, value: 'never', circuit: 'never', channel: null } as const;
  return { spn, text, role, saidClass, ...none };
}

/**
 * Numbers and meanings.
 * Source: the project's domain notes on J1939, 2 and 3c (open decoders of SAE J1939-71 and -73); numbers marked `mem` from memory.
 * What each leads to is engineering judgement after the classes of the domain notes on exhaust physics, 7.
 */
export const knownSpns: readonly KnownSpn[] = [
  // DEF tank
  measured(1761, 'DEF tank level', 'level', { channel: 'defLevelPct' }),
  measured(3517, 'DEF tank level, in millimetres', 'level', { channel: 'defLevelPct' }),
  measured(3364, 'DEF quality', 'quality', { channel: 'defConcentrationPct' }),
  measured(3516, 'DEF concentration', 'quality', { channel: 'defConcentrationPct' }),
  measured(3518, 'DEF conductivity', 'quality'),
  part(3521, 'DEF property: not the right fluid', 'quality'),
  measured(3515, 'DEF temperature at the quality sensor', 'dosing', { channel: 'defTempC' }),
  measured(3031, 'DEF tank temperature', 'dosing', { channel: 'defTempC' }),
  part(3363, 'DEF tank heater', 'dosing'),
  part(4354, 'DEF line heater 1', 'dosing'),
  part(4355, 'DEF line heater 2', 'dosing'), // mem
  part(4356, 'DEF line heater 3', 'dosing'), // mem
  part(4357, 'DEF line heater 4', 'dosing'), // mem
  part(5491, 'relay of the DEF line heaters', 'dosing'),
  part(5745, 'heater of the DEF dosing unit', 'dosing'),
  part(5746, 'relay of the DEF dosing unit heater', 'dosing'),
  part(5798, 'temperature of the DEF dosing unit heater', 'dosing'),
  // DEF dosing
  part(3361, 'DEF dosing unit', 'dosing'),
  part(3362, 'DEF dosing unit input lines', 'dosing'),
  part(4331, 'DEF dosed quantity', 'dosing'),
  part(4334, 'DEF pressure at the dosing unit', 'dosing'),
  part(4337, 'DEF temperature at the dosing unit', 'dosing', 'may'),
  part(4374, 'DEF pump speed', 'dosing'),
  part(4375, 'DEF pump drive', 'dosing'),
  part(4376, 'DEF return valve', 'dosing'),
  part(5392, 'DEF pump lost its prime', 'dosing'),
  part(5394, 'DEF dosing valve', 'dosing'),
  part(5435, 'DEF pump', 'dosing'),
  part(5485, 'orifice of the DEF pump', 'dosing'),
  part(4332, 'SCR dosing system', 'dosing'),
  part(4792, 'SCR system', 'dosing'),
  // NOx and the catalyst
  measured(4364, 'SCR conversion efficiency', 'quality', { channel: 'scrConversionPct' }),
  measured(3216, 'NOx sensor before the SCR catalyst', 'tampering', { channel: 'noxInPpm', value: 'may' }),
  measured(3226, 'NOx sensor behind the SCR catalyst', 'quality', { channel: 'noxOutPpm' }),
  measured(4360, 'SCR inlet temperature', 'other', { channel: 'scrInletTempC', value: 'may' }),
  measured(4363, 'SCR outlet temperature', 'other', { channel: 'scrOutletTempC', value: 'may' }),
  // EGR
  part(27, 'EGR valve position', 'egr'),
  part(411, 'EGR differential pressure', 'egr'),
  part(412, 'EGR temperature', 'egr', 'may'),
  part(2659, 'EGR mass flow', 'egr'),
  part(2791, 'EGR valve control', 'egr'),
  part(4752, 'EGR cooler efficiency', 'egr'), // mem
  // Particulate filter
  measured(3719, 'particulate filter soot load', 'soot', { channel: 'dpfSootPct', circuit: ['other', 'may'] }),
  measured(3720, 'particulate filter ash load', 'soot', {
    channel: 'dpfAshPct',
    circuit: ['other', 'may'],
    value: 'may',
  }),
  measured(3251, 'particulate filter differential pressure', 'soot', {
    channel: 'dpfDeltaPressureKPa',
    circuit: ['other', 'may'],
  }),
  measured(81, 'particulate filter inlet pressure', 'soot', { circuit: ['other', 'may'] }),
  measured(3609, 'particulate filter inlet pressure', 'soot', { circuit: ['other', 'may'] }),
  measured(3610, 'particulate filter outlet pressure', 'other', { circuit: ['other', 'may'], value: 'may' }),
  part(3936, 'particulate filter system', 'soot'),
  part(3241, 'exhaust temperature 1', 'other', 'may'),
  part(3242, 'particulate filter inlet temperature', 'other', 'may'),
  part(3245, 'exhaust temperature 3', 'other', 'may'),
  part(3246, 'particulate filter outlet temperature', 'other', 'may'),
  part(3249, 'exhaust temperature 2', 'other', 'may'),
  part(4765, 'oxidation catalyst inlet temperature', 'other', 'may'),
  part(4766, 'oxidation catalyst outlet temperature', 'other', 'may'),
  part(3471, 'regeneration fuel pressure control', 'soot', 'may'),
  part(3479, 'regeneration fuel pressure control 1', 'soot', 'may'),
  part(3480, 'regeneration fuel pressure', 'soot', 'may'),
  part(3481, 'regeneration fuel rate', 'soot', 'may'),
  part(3482, 'regeneration fuel shut-off', 'soot', 'may'),
  part(3556, 'regeneration fuel injector', 'soot', 'may'),
  consequence(3695, 'regeneration inhibit switch', 'status'),
  consequence(3697, 'particulate filter lamp', 'status'),
  consequence(3700, 'active regeneration state', 'status'),
  consequence(3701, 'need of a regeneration', 'status'),
  part(3703, 'regeneration inhibited by switch', 'soot', 'may'),
  part(3711, 'regeneration inhibited, exhaust too cold', 'soot', 'may'),
  part(3713, 'regeneration timed out', 'soot', 'may'),
  part(3750, 'conditions for a regeneration not met', 'soot', 'may'),
  // Air, turbocharger, fuel
  engine(102, 'boost pressure', 'intakeManifoldPressureKPa'),
  engine(103, 'turbocharger speed'),
  engine(105, 'intake manifold temperature', 'intakeManifoldTempC'),
  engine(106, 'air inlet pressure'),
  engine(107, 'air filter restriction', 'airFilterDeltaPressureKPa'),
  engine(173, 'exhaust temperature behind the turbine', 'turbineOutTempC'),
  engine(52, 'charge air cooler temperature'),
  engine(1127, 'turbocharger boost pressure'),
  part(641, 'variable turbine actuator', 'protection', 'usually'),
  part(2795, 'variable turbine actuator position', 'protection', 'usually'), // mem
  engine(94, 'fuel supply pressure'),
  engine(157, 'fuel rail pressure'),
  part(1347, 'fuel pump pressure control', 'protection', 'may'), // mem
  engine(97, 'water in the fuel'),
  engine(174, 'fuel temperature'),
  ...[651, 652, 653, 654, 655, 656].map((spn) => part(spn, `injector of cylinder ${spn - 650}`, 'other', 'may')),
  // Engine
  engine(98, 'engine oil level'),
  engine(100, 'engine oil pressure'),
  engine(101, 'crankcase pressure'),
  engine(108, 'barometric pressure', 'barometricPressureKPa'),
  engine(110, 'coolant temperature', 'coolantTempC'),
  engine(111, 'coolant level'),
  engine(175, 'engine oil temperature', 'oilTempC'),
  engine(190, 'engine speed', 'engineSpeedRpm'),
  engine(1638, 'hydraulic oil temperature'), // mem
  engine(177, 'transmission oil temperature'),
  part(636, 'crankshaft position sensor', 'other', 'may'),
  part(723, 'camshaft position sensor', 'other', 'may'), // mem
  part(91, 'accelerator pedal', 'other', 'may'),
  // Electrics and network
  measured(168, 'battery voltage', 'other', { channel: 'batteryV', circuit: ['other', 'may'], value: 'may' }),
  measured(158, 'supply voltage at the controller', 'other', {
    channel: 'batteryV',
    circuit: ['other', 'may'],
    value: 'may',
  }),
  part(620, 'sensor supply voltage 1', 'other', 'may'),
  part(627, 'controller power supply', 'other', 'may'),
  part(629, 'engine controller', 'other', 'may'),
  part(639, 'vehicle network', 'other', 'may'),
  part(1231, 'second vehicle network', 'other', 'may'), // mem
  measured(171, 'ambient air temperature', 'other', {
    channel: 'ambientTempC',
    circuit: ['other', 'may'],
    value: 'never',
  }),
  harmless(70, 'parking brake switch'),
  harmless(80, 'washer fluid level'), // mem
  harmless(84, 'travel speed', 'vehicleSpeedKmPerH'),
  harmless(96, 'fuel level'),
  harmless(116, 'brake pressure'),
  harmless(117, 'brake circuit 1 pressure'),
  harmless(191, 'transmission output speed'),
  harmless(247, 'total engine hours', 'engineHours'),
  harmless(441, 'auxiliary temperature 1'), // mem
  harmless(597, 'brake switch'),
  harmless(876, 'air conditioning clutch'), // mem
  // What is done or shown, and never why
  consequence(899, 'engine torque mode', 'derate'),
  consequence(1109, 'engine protection: shutdown approaching', 'derate'),
  consequence(1110, 'engine protection: engine shut down', 'derate'),
  consequence(1569, 'engine protection: torque reduced', 'derate'),
  consequence(3357, 'largest torque available', 'derate'),
  consequence(3644, 'derate request', 'derate'),
  consequence(4094, 'NOx limit exceeded: DEF quality', 'inducement', 'quality'), // mem
  consequence(4095, 'NOx limit exceeded: dosing interrupted', 'inducement', 'dosing'), // mem
  consequence(4096, 'NOx limit exceeded: DEF tank empty', 'inducement', 'level'), // mem
  consequence(5245, 'DEF level lamp', 'status'),
  consequence(5246, 'operator inducement', 'inducement'),
  consequence(5825, 'operator inducement: warning', 'inducement'),
  consequence(5826, 'operator inducement: severity', 'inducement'),
  consequence(623, 'red stop lamp', 'status'),
  consequence(624, 'amber warning lamp', 'status'),
  consequence(987, 'protect lamp', 'status'),
  consequence(1213, 'malfunction lamp', 'status'),
];

/** By number. */
export const knownSpnByNumber: ReadonlyMap<number, KnownSpn> = new Map(knownSpns.map((row) => [row.spn, row]));

/** The signals that this library decodes: where each lies in its message and what a count is worth, as data. */

import type { RawStatus } from './raw-status.js';

export interface Signal {
  /** Suspect parameter number. */
  readonly spn: number;
  /** Parameter group that carries it. */
  readonly pgn: number;
  /** Counted from 0; bit 0 is the lowest bit of byte 1. */
  readonly startBit: number;
  readonly bits: number;
  /** Physical value = raw x scale + offset. */
  readonly scale: number;
  readonly offset: number;
  /** '' for a state or a number without a unit. */
  readonly unit: string;
  readonly name: string;
  /** Raw values whose meaning differs from the general rule of their length. */
  readonly listed: Readonly<Record<number, RawStatus>>;
}

interface Slot {
  readonly bits: number;
  readonly scale: number;
  readonly offset: number;
  readonly unit: string;
  readonly listed?: Readonly<Record<number, RawStatus>>;
}

type Row = readonly [spn: number, startBit: number, slot: Slot, name: string];

function slot(bits: number, scale: number, offset: number, unit: string): Slot {
  return { bits, scale, offset, unit };
}

function state(bits: number, listed: Readonly<Record<number, RawStatus>> = {}): Slot {
  return { bits, scale: 1, offset: 0, unit: '', listed };
}

// Kinds of field that occur again and again.
const percent = slot(8, 1, 0, '%');
const percentFine = slot(8, 0.4, 0, '%');
const torque = slot(8, 1, -125, '%');
const tempCoarse = slot(8, 1, -40, 'degC');
const tempFine = slot(16, 0.03125, -273, 'degC');
const speedRpm = slot(16, 0.125, 0, 'rpm');
const pressureFine = slot(16, 0.1, 0, 'kPa');
const filterPressure = slot(8, 0.05, 0, 'kPa');
const flowLPerH = slot(16, 0.05, 0, 'L/h');
const voltage = slot(16, 0.05, 0, 'V');
const totalHours = slot(32, 0.05, 0, 'h');
const totalLitres = slot(32, 0.5, 0, 'L');
const totalSeconds = slot(32, 1, 0, 's');
const count = slot(32, 1, 0, '');
const nox = slot(16, 0.05, -200, 'ppm');
const oxygen = slot(16, 0.000514, -12, '%');
const dosing = slot(16, 0.3, 0, 'g/h');
const two = state(2);
/** Lists in which 2 has no meaning yet. */
const twoReserved = state(2, { 2: 'reserved' });
/** Lists in which 2 is a state like any other. */
const twoListed = state(2, { 2: 'valid' });
const three = state(3);
const four = state(4);
/** Five bits of a failure mode that a sensor reports about itself; 31 is "no failure". */
const selfCheck = state(5);

/**
 * Rows by parameter group.
 * Source: SAE J1939-71 (2012), compared over several public DBC files and a public digital annex (2019 edition); exceptions
 * are marked. Names are the project's own short forms.
 */
const messages: Readonly<Record<number, readonly Row[]>> = {
  // EEC2
  61443: [
    [558, 0, two, 'accelerator pedal at low idle'],
    [91, 8, percentFine, 'accelerator pedal position'],
    [92, 16, percent, 'engine load at current speed'],
    [974, 24, percentFine, 'remote accelerator position'],
    [5399, 44, two, 'filter thermal management active'],
    [5400, 46, two, 'SCR thermal management active'],
    [3357, 48, percentFine, 'maximum available engine torque'],
  ],
  // EEC1
  61444: [
    [899, 0, state(4, { 14: 'valid' }), 'engine torque mode'],
    [4154, 4, slot(4, 0.125, 0, '%'), 'actual torque, fine part'],
    [512, 8, torque, 'torque demanded by driver'],
    [513, 16, torque, 'actual engine torque'],
    [190, 24, speedRpm, 'engine speed'],
    [2432, 56, torque, 'engine torque demand'],
  ],
  // AT1IG1
  61454: [
    [3216, 0, nox, 'NOx at aftertreatment inlet'],
    [3217, 16, oxygen, 'oxygen at aftertreatment inlet'],
    [3218, 32, two, 'inlet gas sensor powered'],
    [3219, 34, two, 'inlet gas sensor at temperature'],
    [3220, 36, two, 'inlet NOx reading stable'],
    [3221, 38, two, 'inlet oxygen reading stable'],
    [3222, 40, selfCheck, 'inlet gas sensor heater self-check'],
    [3223, 45, twoListed, 'inlet gas sensor heater mode'],
    [3224, 48, selfCheck, 'inlet NOx sensor self-check'],
  ],
  // AT1OG1
  61455: [
    [3226, 0, nox, 'NOx at aftertreatment outlet'],
    [3227, 16, oxygen, 'oxygen at aftertreatment outlet'],
    [3228, 32, two, 'outlet gas sensor powered'],
    [3229, 34, two, 'outlet gas sensor at temperature'],
    [3230, 36, two, 'outlet NOx reading stable'],
    [3231, 38, two, 'outlet oxygen reading stable'],
    [3232, 40, selfCheck, 'outlet gas sensor heater self-check'],
    [3233, 45, twoListed, 'outlet gas sensor heater mode'],
    [3234, 48, selfCheck, 'outlet NOx sensor self-check'],
  ],
  // A1SCRDSI1
  61475: [
    [4331, 0, dosing, 'DEF dosed'],
    [4332, 16, four, 'SCR system state'],
    [4333, 24, slot(16, 0.1, 0, 'g'), 'DEF dosed, integrator'],
    [4334, 40, slot(8, 8, 0, 'kPa'), 'DEF doser absolute pressure'],
  ],
  // A1SCRDSR1
  61476: [[4348, 0, dosing, 'DEF dosing requested']],
  // CM1
  57344: [
    [3695, 40, two, 'regeneration inhibit switch'],
    [3696, 42, two, 'regeneration force switch'],
  ],
  // DPF1S
  64796: [
    [4781, 0, slot(8, 4, 0, 'g'), 'filter soot mass'],
    [4782, 8, slot(8, 0.08, 0, 'g/L'), 'filter soot density'],
  ],
  // A1DOC1
  64800: [
    [4765, 0, tempFine, 'oxidation catalyst inlet temperature'],
    [4766, 16, tempFine, 'oxidation catalyst outlet temperature'],
  ],
  // A1DEFSI
  64828: [
    [4374, 0, slot(16, 0.5, 0, 'rpm'), 'DEF pump speed'],
    [4375, 16, percentFine, 'DEF pump drive'],
    [5435, 40, two, 'DEF pump state'],
  ],
  // A1SCREGT1
  64830: [
    [4360, 0, tempFine, 'SCR inlet temperature'],
    [4361, 16, selfCheck, 'SCR inlet temperature self-check'],
    [4363, 24, tempFine, 'SCR outlet temperature'],
    [4362, 40, selfCheck, 'SCR outlet temperature self-check'],
  ],
  // A1SCRDSI2
  64833: [
    [4337, 16, tempCoarse, 'DEF dosing temperature'],
    [4339, 27, state(3, { 6: 'error' }), 'SCR feedback control'],
  ],
  // A1SCRSI1
  64878: [
    [3826, 0, flowLPerH, 'DEF average consumption'],
    [3828, 16, flowLPerH, 'DEF commanded consumption'],
    [4364, 32, percentFine, 'SCR conversion efficiency'],
    [5463, 40, slot(16, 1, 0, 'km'), 'distance with inducement active'],
  ],
  // AT1S1
  64891: [
    [3719, 0, percent, 'filter soot load'],
    [3720, 8, percent, 'filter ash load'],
    [3721, 16, totalSeconds, 'time since last active regeneration'],
    [5466, 48, slot(16, 0.0025, 0, '%'), 'soot load that triggers regeneration'],
  ],
  // DPFC1
  64892: [
    [3697, 0, three, 'filter lamp'],
    [3699, 8, twoReserved, 'passive regeneration'],
    [3700, 10, twoListed, 'active regeneration'],
    [3701, 12, three, 'need of regeneration'],
    [3702, 16, twoReserved, 'regeneration inhibited'],
    [3703, 18, twoReserved, 'inhibited by switch'],
    [3704, 20, twoReserved, 'inhibited by clutch'],
    [3705, 22, twoReserved, 'inhibited by service brake'],
    [3706, 24, twoReserved, 'inhibited by power take-off'],
    [3707, 26, twoReserved, 'inhibited by accelerator pedal'],
    [3708, 28, twoReserved, 'inhibited by gear engaged'],
    [3709, 30, twoReserved, 'inhibited by vehicle speed too high'],
    [3710, 32, twoReserved, 'inhibited by parking brake released'],
    [3711, 34, twoReserved, 'inhibited by cold exhaust'],
    [3712, 36, twoReserved, 'inhibited by system fault'],
    [3713, 38, twoReserved, 'inhibited by time-out'],
    [3714, 40, twoReserved, 'inhibited by temporary lockout'],
    [3715, 42, twoReserved, 'inhibited by permanent lockout'],
    [3716, 44, twoReserved, 'inhibited by cold engine'],
    [3717, 46, twoReserved, 'inhibited by vehicle speed too low'],
    [3718, 48, twoReserved, 'automatic regeneration enabled'],
    [3698, 50, three, 'hot exhaust lamp'],
    [4175, 53, three, 'regeneration forced'],
    [5504, 56, two, 'hydrocarbon doser purging'],
    [5629, 58, twoReserved, 'inhibited by low exhaust pressure'],
  ],
  // AT1GP
  64908: [
    [3609, 0, pressureFine, 'filter inlet pressure'],
    [3610, 16, pressureFine, 'filter outlet pressure'],
  ],
  // EOI
  64914: [
    [3543, 0, four, 'engine operating state'],
    [3607, 44, two, 'emergency shutdown requested'],
    [3644, 56, percentFine, 'derate requested'],
  ],
  // AT1HI1, 40 bytes by transport protocol. 3725-3728: positions from memory; 5454 and 5827: fit the published
  // 173933 s and 1460.5 of pretty_j1939's README.
  64920: [
    [3522, 0, totalLitres, 'fuel used by regenerations'],
    [3523, 32, totalSeconds, 'time in regeneration'],
    [3524, 64, totalSeconds, 'time disabled'],
    [3525, 96, count, 'active regenerations'],
    [3725, 128, totalSeconds, 'time in passive regeneration'],
    [3726, 160, count, 'passive regenerations'],
    [3727, 192, count, 'requests to inhibit regeneration'],
    [3728, 224, count, 'manual requests for regeneration'],
    [5454, 256, totalSeconds, 'average time between active regenerations'],
    [5827, 288, slot(32, 0.125, 0, 'km'), 'average distance between active regenerations'],
  ],
  // A1DEFI1
  64923: [
    [3515, 0, tempCoarse, 'DEF temperature at quality sensor'],
    [3516, 8, slot(8, 0.25, 0, '%'), 'DEF concentration'],
    [3518, 16, slot(8, 5, 0, 'uS/mm'), 'DEF conductivity'],
    [3519, 24, selfCheck, 'DEF temperature self-check'],
    [3520, 32, selfCheck, 'DEF property self-check'],
    [3521, 40, four, 'DEF property'],
  ],
  // AT1FC1
  64929: [
    [3480, 0, pressureFine, 'regeneration fuel pressure'],
    [3481, 16, flowLPerH, 'regeneration fuel rate'],
    [3483, 52, two, 'regeneration burner active'],
    [3482, 54, two, 'regeneration fuel valve'],
  ],
  // PTODE
  64932: [[3948, 48, two, 'power take-off engaged']],
  // AT1IMG
  64946: [
    [3249, 0, tempFine, 'exhaust temperature 2'],
    [3250, 16, tempFine, 'filter middle temperature'],
    [3251, 32, pressureFine, 'filter pressure drop'],
    [3252, 48, selfCheck, 'exhaust temperature 2 self-check'],
    [3253, 53, selfCheck, 'filter pressure drop self-check'],
    [3254, 58, selfCheck, 'filter middle temperature self-check'],
  ],
  // AT1OG2
  64947: [
    [3245, 0, tempFine, 'exhaust temperature 3'],
    [3246, 16, tempFine, 'filter outlet temperature'],
    [3247, 32, selfCheck, 'exhaust temperature 3 self-check'],
    [3248, 40, selfCheck, 'filter outlet temperature self-check'],
  ],
  // AT1IG2
  64948: [
    [3241, 0, tempFine, 'exhaust temperature 1'],
    [3242, 16, tempFine, 'filter inlet temperature'],
    [3243, 32, selfCheck, 'exhaust temperature 1 self-check'],
    [3244, 40, selfCheck, 'filter inlet temperature self-check'],
  ],
  // IC2
  64976: [[2809, 0, filterPressure, 'air filter 2 pressure drop']],
  // AT1T1I1
  65110: [
    [1761, 0, percentFine, 'DEF tank level'],
    [3031, 8, tempCoarse, 'DEF tank temperature'],
    [3517, 16, slot(16, 0.1, 0, 'mm'), 'DEF tank level as height'],
    [3532, 32, selfCheck, 'DEF tank level self-check'],
    [5245, 37, three, 'low DEF lamp'],
    [4365, 40, selfCheck, 'DEF tank temperature self-check'],
    [5246, 45, state(3, { 6: 'valid' }), 'inducement severity'],
    [3363, 48, percentFine, 'DEF tank heater'],
    [4366, 56, selfCheck, 'DEF tank heater self-check'],
  ],
  // IMT1
  65190: [[1127, 0, slot(16, 0.125, 0, 'kPa'), 'turbocharger boost pressure']],
  // IO
  65244: [
    [236, 0, totalLitres, 'fuel used idling'],
    [235, 32, totalHours, 'idle hours'],
  ],
  // TC
  65245: [[103, 8, slot(16, 4, 0, 'rpm'), 'turbocharger speed']],
  // EEC3
  65247: [
    [514, 0, torque, 'friction torque'],
    [515, 8, speedRpm, 'desired engine speed'],
    [3236, 40, slot(16, 0.2, 0, 'kg/h'), 'exhaust mass flow'],
  ],
  // EC1, by transport protocol
  65251: [[544, 152, slot(16, 1, 0, 'Nm'), 'reference torque']],
  // SHUTDN
  65252: [
    [1081, 24, two, 'wait-to-start lamp'],
    [1110, 32, two, 'engine shut down by protection'],
    [1109, 34, two, 'engine protection about to shut down'],
  ],
  // HOURS
  65253: [
    [247, 0, totalHours, 'engine hours'],
    [249, 32, slot(32, 1000, 0, 'r'), 'engine revolutions'],
  ],
  // LFC1
  65257: [
    [182, 0, totalLitres, 'trip fuel'],
    [250, 32, totalLitres, 'total fuel used'],
  ],
  // ET1
  65262: [
    [110, 0, tempCoarse, 'coolant temperature'],
    [175, 16, tempFine, 'oil temperature'],
  ],
  // EFL/P1
  65263: [
    [98, 16, percentFine, 'oil level'],
    [100, 24, slot(8, 4, 0, 'kPa'), 'oil pressure'],
  ],
  // PTO
  65264: [[980, 40, two, 'power take-off governor enabled']],
  // CCVS1
  65265: [
    [84, 8, slot(16, 0.00390625, 0, 'km/h'), 'wheel-based vehicle speed'],
    [976, 48, state(5), 'power take-off governor state'],
  ],
  // LFE1
  65266: [[183, 0, flowLPerH, 'fuel rate']],
  // AMB
  65269: [
    [108, 0, slot(8, 0.5, 0, 'kPa'), 'barometric pressure'],
    [171, 24, tempFine, 'ambient air temperature'],
    [172, 40, tempCoarse, 'air intake temperature'],
  ],
  // IC1
  65270: [
    [81, 0, slot(8, 0.5, 0, 'kPa'), 'filter intake pressure'],
    [102, 8, slot(8, 2, 0, 'kPa'), 'intake manifold pressure'],
    [105, 16, tempCoarse, 'intake manifold temperature'],
    [106, 24, slot(8, 2, 0, 'kPa'), 'air intake pressure'],
    [107, 32, filterPressure, 'air filter 1 pressure drop'],
    [173, 40, tempFine, 'exhaust gas temperature'],
  ],
  // VEP1
  65271: [
    [167, 16, voltage, 'charging voltage'],
    [168, 32, voltage, 'battery voltage'],
    [158, 48, voltage, 'keyswitch battery voltage'],
  ],
  // DD1
  65276: [[96, 8, percentFine, 'fuel level']],
};

const noList: Readonly<Record<number, RawStatus>> = {};

/** Every signal, group by group in rising PGN order, as it lies in the message. */
export const signals: readonly Signal[] = Object.entries(messages).flatMap(([pgn, rows]) =>
  rows.map(([spn, startBit, { bits, scale, offset, unit, listed = noList }, name]) => ({
    spn,
    pgn: Number(pgn),
    startBit,
    bits,
    scale,
    offset,
    unit,
    name,
    listed,
  })),
);

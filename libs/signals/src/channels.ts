/** The channel catalogue: every signal the project knows, as data. */

export type ChannelKind = 'continuous' | 'state' | 'counter';

export interface Channel {
  readonly name: string;
  /** Unit of the value; '' for a state. */
  readonly unit: string;
  /** Lowest and highest value taken as a measurement; anything outside is counted as implausible and dropped. */
  readonly min: number;
  readonly max: number;
  /** Step of the stored value, that of J1939 where there is one. */
  readonly resolution: number;
  /** Value of the zero count: value = offset + count x resolution. */
  readonly offset: number;
  /** J1939 suspect parameter numbers that carry it, best first; empty when no standard parameter does. */
  readonly spns: readonly number[];
  readonly kind: ChannelKind;
  /** How long a received CAN value stays good on a resampled grid, in seconds. */
  readonly holdS: number;
  readonly description: string;
}

/**
 * Source of resolutions, offsets and SPNs: SAE J1939-71 (2012) as tabulated in the project's domain notes.
 * Valid ranges are narrower than the wire allows where physics does; Source: engineering judgement.
 */
const catalogue = {
  engineSpeedRpm: wire('rpm', [0, 8031.875, 0.125, 0], [190], 'Crankshaft speed.'),
  engineLoadPct: wire(
    '%',
    [0, 250, 1, 0],
    [92],
    'Load at the current speed; 100 is the torque available at that speed.',
  ),
  exhaustTempC: exhaust([], 'Exhaust temperature that the catalyst window is judged by, as sent by the gateway.'),
  turbineOutTempC: exhaust([173], 'Exhaust gas leaving the turbine.'),
  docInletTempC: exhaust([4765, 3241], 'Exhaust gas entering the oxidation catalyst.'),
  docOutletTempC: exhaust([4766], 'Exhaust gas leaving the oxidation catalyst.'),
  dpfInletTempC: exhaust([3242], 'Exhaust gas entering the particulate filter.'),
  dpfOutletTempC: exhaust([3246], 'Exhaust gas leaving the particulate filter.'),
  scrInletTempC: exhaust([4360], 'Exhaust gas entering the SCR catalyst.'),
  scrOutletTempC: exhaust([4363], 'Exhaust gas leaving the SCR catalyst.'),
  coolantTempC: wire('degC', [-40, 210, 1, -40], [110], 'Engine coolant temperature.'),
  oilTempC: wire('degC', [-60, 300, 0.03125, -273], [175], 'Engine oil temperature.'),
  ambientTempC: wire('degC', [-60, 80, 0.03125, -273], [171], 'Ambient air temperature.'),
  intakeManifoldTempC: wire('degC', [-40, 210, 1, -40], [105], 'Intake manifold temperature.'),
  intakeManifoldPressureKPa: wire('kPa', [0, 500, 2, 0], [102], 'Intake manifold gauge pressure.'),
  barometricPressureKPa: wire('kPa', [30, 125, 0.5, 0], [108], 'Barometric pressure.'),
  fuelRateLPerH: wire('L/h', [0, 3212.75, 0.05, 0], [183], 'Fuel consumed per hour.'),
  exhaustFlowKgPerH: wire('kg/h', [0, 12851, 0.2, 0], [3236], 'Exhaust mass flow.'),
  actualTorquePct: wire('%', [-125, 125, 1, -125], [513], 'Actual torque in percent of the reference torque.'),
  defLevelPct: wire('%', [0, 100, 0.4, 0], [1761], 'Level of the DEF tank.'),
  defTempC: wire('degC', [-40, 210, 1, -40], [3031, 3515], 'Temperature in the DEF tank.'),
  defConcentrationPct: wire('%', [0, 62.5, 0.25, 0], [3516], 'Urea concentration of the DEF by mass.'),
  defPropertyState: state([3521], 13, 'What the DEF quality sensor takes the fluid to be.', 30),
  defDosingGPerH: wire('g/h', [0, 19276.5, 0.3, 0], [4331], 'DEF dosed.'),
  defDosingRequestedGPerH: wire('g/h', [0, 19276.5, 0.3, 0], [4348], 'DEF dosing requested by the controller.'),
  defTankHeaterPct: wire('%', [0, 100, 0.4, 0], [3363], 'Drive of the DEF tank heater.'),
  scrSystemState: state([4332], 14, 'State of the SCR dosing system.'),
  scrConversionPct: wire('%', [0, 100, 0.4, 0], [4364], 'NOx conversion as computed by the engine controller.', 60),
  noxInPpm: wire('ppm', [-200, 3012, 0.05, -200], [3216], 'NOx before the SCR catalyst.'),
  noxOutPpm: wire('ppm', [-200, 3012, 0.05, -200], [3226], 'NOx after the SCR catalyst.'),
  dpfSootPct: wire(
    '%',
    [0, 250, 1, 0],
    [3719],
    'Soot load; 100 is the level at which an active regeneration should start.',
    60,
  ),
  dpfAshPct: wire('%', [0, 250, 1, 0], [3720], 'Ash load of the particulate filter.', 60),
  dpfDeltaPressureKPa: wire('kPa', [0, 200, 0.1, 0], [3251], 'Pressure drop over the particulate filter.'),
  activeRegenState: state([3700], 2, 'Active regeneration: 0 not active, 1 active, 2 needed and about to start.', 30),
  regenInhibitedState: state([3702], 1, 'Active regeneration inhibited for any reason: 0 no, 1 yes.', 30),
  regenNeedState: state([3701], 3, 'Need of a regeneration: 0 none, 1 lowest, 2 moderate, 3 highest.', 30),
  airFilterDeltaPressureKPa: wire('kPa', [0, 12.5, 0.05, 0], [107], 'Pressure drop over the air filter.'),
  engineHours: counter('h', 0.05, [247], 'Total engine hours.'),
  idleHours: counter('h', 0.05, [235], 'Total idle hours.'),
  totalFuelL: counter('L', 0.5, [250], 'Total fuel used.'),
  torqueLimitPct: wire('%', [0, 100, 0.4, 0], [3357], 'Largest torque the engine makes available now.'),
  torqueModeState: state([899], 14, 'What governs the torque; 8 is torque limiting.'),
  derateRequestPct: wire('%', [0, 100, 0.4, 0], [3644], 'Derate requested by another controller.'),
  inducementSeverity: state(
    [5246],
    6,
    'Operator inducement: 0 none, 1-2 warnings, 3-5 derate, 6 temporary override.',
    30,
  ),
  batteryV: wire('V', [0, 100, 0.05, 0], [168, 158], 'Battery voltage.'),
  vehicleSpeedKmPerH: wire('km/h', [0, 250, 0.00390625, 0], [84], 'Travel speed.'),
} as const satisfies Record<string, Omit<Channel, 'name'>>;

export type ChannelName = keyof typeof catalogue;

/** All channels by name. */
export const channels: Readonly<Record<ChannelName, Channel>> = Object.fromEntries(
  Object.entries(catalogue).map(([name, channel]) => [name, { name, ...channel }]),
) as Record<ChannelName, Channel>;

/** Channel names in catalogue order. */
export const channelNames: readonly ChannelName[] = Object.keys(catalogue) as ChannelName[];

/** Whether a text names a channel of the catalogue. */
export function isChannelName(text: string): text is ChannelName {
  return Object.hasOwn(catalogue, text);
}

/** Whether the channel needs 64 bits: totals outgrow the 24 bits of a float's mantissa. */
export function isWideChannel(name: ChannelName): boolean {
  return channels[name].kind === 'counter';
}

/**
 * Channels that can stand for the exhaust temperature at the catalyst, best first.
 * Source: design decision; nearer to the SCR catalyst is better, the turbine outlet is the last resort.
 */
export const exhaustSourceOrder = [
  'exhaustTempC',
  'scrInletTempC',
  'dpfInletTempC',
  'docInletTempC',
  'turbineOutTempC',
] as const satisfies readonly ChannelName[];

export type ExhaustSource = (typeof exhaustSourceOrder)[number];

type Row = Omit<Channel, 'name'>;

/** Lowest and highest value, resolution, offset. */
type Scale = readonly [min: number, max: number, resolution: number, offset: number];

function wire(unit: string, scale: Scale, spns: readonly number[], description: string, holdS = 5): Row {
  const [min, max, resolution, offset] = scale;
  return { unit, min, max, resolution, offset, spns, kind: 'continuous', holdS, description };
}

function exhaust(spns: readonly number[], description: string): Row {
  return wire('degC', [-60, 1100, 0.03125, -273], spns, description);
}

function state(spns: readonly number[], max: number, description: string, holdS = 5): Row {
  return { unit: '', min: 0, max, resolution: 1, offset: 0, spns, kind: 'state', holdS, description };
}

function counter(unit: string, resolution: number, spns: readonly number[], description: string): Row {
  // Largest count of a 4-byte parameter that is a measurement. Source: SAE J1939-71, 5.1.4.
  const max = 0xfaffffff * resolution;
  return { unit, min: 0, max, resolution, offset: 0, spns, kind: 'counter', holdS: 3600, description };
}

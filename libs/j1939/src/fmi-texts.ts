/** Failure mode identifiers in words. */

/**
 * What each failure mode identifier says, by number 0-31.
 * Source: meanings of SAE J1939-73 in the project's own short wording; 22-30 reserved, from memory. Severity of "high"
 * rises 15, 16, 0 and that of "low" 17, 18, 1.
 */
export const fmiTexts: readonly string[] = [
  'value high, most severe',
  'value low, most severe',
  'erratic or incorrect data',
  'voltage high or shorted high',
  'voltage low or shorted low',
  'current low or open circuit',
  'current high or grounded circuit',
  'mechanism not responding',
  'abnormal frequency or period',
  'abnormal update rate',
  'abnormal rate of change',
  'root cause unknown',
  'bad device',
  'out of calibration',
  'special instructions',
  'value high, least severe',
  'value high, moderately severe',
  'value low, least severe',
  'value low, moderately severe',
  'received network data in error',
  'drifted high',
  'drifted low',
  ...Array.from({ length: 9 }, () => 'reserved'),
  'condition exists',
];

/** Classes of what takes power away. */

/**
 * `level`, `quality`, `dosing`, `tampering` (monitoring fails: sensors, lines) and `egr` are inducements with a schedule;
 * `soot` protects the filter, `protection` the engine, both without one; `other` can lead to a derate in a way of its own.
 * Source: the classes of EU Stage V (Reg. (EU) 2017/654 Annex IV, from memory) beside engine protection.
 */
export const inducementClasses = [
  'level',
  'quality',
  'dosing',
  'tampering',
  'egr',
  'soot',
  'protection',
  'other',
] as const;
export type InducementClass = (typeof inducementClasses)[number];

/** In words. */
export const inducementClassTexts: Readonly<Record<InducementClass, string>> = {
  level: 'DEF level',
  quality: 'DEF quality',
  dosing: 'DEF dosing interrupted',
  tampering: 'monitoring of the NOx control fails',
  egr: 'EGR impeded',
  soot: 'particulate filter loaded',
  protection: 'engine protection',
  other: 'other',
};

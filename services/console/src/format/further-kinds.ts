/** Words for findings of the channels that only some machines send. */

import type { KindWords } from './finding-words.js';

/** What happened needs no length here; what goes on says so. */
function words(name: { one: string; many: string }, sentence: string, meaning: string): KindWords {
  return { ...name, sentence, ongoing: `${sentence}, still going on`, meaning };
}

/** By kind. */
export const furtherKinds = {
  'def-drop': words(
    { one: 'DEF drop', many: 'DEF drops' },
    'DEF gone that dosing does not explain',
    'The tank level fell further than the machine can have used: a leak, or somebody took it.',
  ),
  'def-quality': words(
    { one: 'DEF quality', many: 'DEF qualities' },
    'DEF outside its limits',
    'The sensor in the tank reads a concentration or a fluid outside ISO 22241-1.',
  ),
  'def-low': words({ one: 'low DEF', many: 'low DEF' }, 'DEF low', 'Under this level power is reduced.'),
  'def-empty-forecast': words(
    { one: 'DEF running out', many: 'DEF running out' },
    'DEF runs low within a shift',
    'At the consumption of this machine the tank comes to its low level soon.',
  ),
  'def-frost': words(
    { one: 'frost advice', many: 'frost advices' },
    'DEF tank at a wrong level for frost',
    'Leave about a quarter in the tank before a night of frost; a full tank can burst. Manual and local rules come first.',
  ),
  'def-heater': words(
    { one: 'DEF heater fault', many: 'DEF heater faults' },
    'DEF tank heater on without effect',
    'The heater is driven and the tank does not thaw.',
  ),
  'def-consumption': words(
    { one: 'DEF use changed', many: 'DEF uses changed' },
    'DEF use against fuel has changed',
    'The machine uses more or less DEF for its fuel than it used to.',
  ),
  'nox-conversion': words(
    { one: 'weak NOx conversion', many: 'weak NOx conversions' },
    'Converts less NOx than it used to',
    'At this exhaust temperature the catalyst takes out less NOx than on the same machine before.',
  ),
  'regeneration-inhibited': words(
    { one: 'held-off regeneration', many: 'held-off regenerations' },
    'Regeneration needed and held off',
    'The filter asks for a regeneration that is inhibited or does not start. Hot exhaust: park where nothing can burn.',
  ),
  regeneration: {
    one: 'regeneration',
    many: 'regenerations',
    sentence: 'Regenerated for {length}',
    ongoing: 'Regenerating, {length} so far',
    meaning: 'Active regeneration of the particulate filter; one that is broken off leaves soot behind.',
  },
  'air-filter': words(
    { one: 'clogged air filter', many: 'clogged air filters' },
    'Air filter restricted',
    'Restriction at rated flow is near or over its limit; an over-restricted filter harms the turbocharger.',
  ),
  'sensor-suspect': words(
    { one: 'suspect sensor', many: 'suspect sensors' },
    'Sensor not to be trusted',
    'A temperature that does not move, is too cold for a running engine, or contradicts its neighbour.',
  ),
  'service-overdue': words(
    { one: 'service overdue', many: 'services overdue' },
    'Service overdue',
    'Work that its interval of hours or months asks for is not recorded as done. The manual of the machine comes first.',
  ),
  'inducement-step': words(
    { one: 'inducement ahead', many: 'inducements ahead' },
    'A fault is active that takes power if it lasts',
    'A forecast in engine hours from a general table; the machine and its manual decide. The fault has to be repaired before the next step.',
  ),
  derate: words(
    { one: 'derate', many: 'derates' },
    'Power reduced',
    'The machine takes torque away: for an inducement or to protect itself. The fault that came first is the one to look for.',
  ),
  'cold-start': {
    one: 'cold start',
    many: 'cold starts',
    sentence: 'Started in frost',
    ongoing: 'Started in frost',
    meaning: 'How long it was warmed up, and when the exhaust was warm enough to dose.',
  },
  'def-fill': {
    one: 'DEF fill',
    many: 'DEF fills',
    sentence: 'DEF filled',
    ongoing: 'DEF filled',
    meaning: 'For reference: the level rose by what was filled.',
  },
} as const satisfies Readonly<Record<string, KindWords>>;

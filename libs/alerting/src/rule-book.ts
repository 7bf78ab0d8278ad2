/** The rules and maintenance windows that are in force, and which of them are a machine's. */

import type { MachineProfile } from '@warmbrick/signals';
import { z } from 'zod';
import { builtInRules } from './built-in-rules.js';
import type { Rule } from './rule.js';

/** Where a machine belongs. */
export interface MachinePlace {
  readonly machineId: string;
  readonly fleetId: string;
  readonly profile: MachineProfile;
}

/**
 * A time during which machines are out of service and their alerts page nobody: a repair, a move. Without an end it lasts
 * until somebody deletes it. Word: ISA-18.2, out-of-service.
 */
export const maintenanceWindowSchema = z
  .strictObject({
    id: z.string().min(1).max(60),
    fleetId: z.string().min(1).max(100).default('main'),
    /** One machine, or a site; neither: all machines of the fleet. */
    machineId: z.string().max(100).nullable().default(null),
    site: z.string().max(80).nullable().default(null),
    fromMs: z.number().int(),
    toMs: z.number().int().nullable().default(null),
    reason: z.string().min(1).max(300),
    by: z.string().max(100).default('local'),
  })
  .refine((window) => window.toMs === null || window.toMs > window.fromMs, {
    path: ['toMs'],
    message: 'the end must be after the start',
  });
export type MaintenanceWindow = z.output<typeof maintenanceWindowSchema>;

/** A rule that somebody has set for a fleet; one with the id of a built-in rule stands in its place. */
export interface OwnRule {
  readonly fleetId: string;
  readonly rule: Rule;
}

/** What is in force, for all fleets. */
export interface RuleBook {
  readonly ownRules: readonly OwnRule[];
  readonly windows: readonly MaintenanceWindow[];
}

/** The built-in rules and no windows. */
export const builtInBook: RuleBook = { ownRules: [], windows: [] };

/** A fleet's rules, enabled or not: the built-in ones, its own in their place and after them. */
export function rulesOfFleet(book: RuleBook, fleetId: string): readonly Rule[] {
  const own = book.ownRules.filter((one) => one.fleetId === fleetId).map(({ rule }) => rule);
  const byId = new Map(own.map((rule) => [rule.id, rule]));
  const builtIn = builtInRules.map((rule) => byId.get(rule.id) ?? rule);
  const builtInIds = new Set(builtIn.map(({ id }) => id));
  return [...builtIn, ...own.filter(({ id }) => !builtInIds.has(id))];
}

/** The enabled rules that apply to a machine. */
export function rulesOfMachine(book: RuleBook, place: MachinePlace): readonly Rule[] {
  return rulesOfFleet(book, place.fleetId).filter((rule) => rule.isEnabled && appliesTo(rule, place));
}

/** The maintenance window that a machine is in at an instant of the wall clock; the one that lasts longest. */
export function windowAt(book: RuleBook, place: MachinePlace, atMs: number): MaintenanceWindow | null {
  let found: MaintenanceWindow | null = null;
  for (const window of book.windows) {
    if (!covers(window, place) || atMs < window.fromMs || atMs >= endOf(window)) continue;
    if (found === null || endOf(window) > endOf(found)) found = window;
  }
  return found;
}

/** The next instant at which a window of the machine begins or ends; null when none does. */
export function nextWindowChange(book: RuleBook, place: MachinePlace, afterMs: number): number | null {
  let next: number | null = null;
  for (const window of book.windows) {
    if (!covers(window, place)) continue;
    for (const atMs of [window.fromMs, window.toMs]) {
      if (atMs !== null && atMs > afterMs && (next === null || atMs < next)) next = atMs;
    }
  }
  return next;
}

function endOf(window: MaintenanceWindow): number {
  return window.toMs ?? Number.POSITIVE_INFINITY;
}

function covers(window: MaintenanceWindow, { machineId, fleetId, profile }: MachinePlace): boolean {
  if (window.fleetId !== fleetId) return false;
  if (window.machineId !== null) return window.machineId === machineId;
  return window.site === null || window.site === (profile.site ?? null);
}

function appliesTo({ appliesTo: only }: Rule, { machineId, fleetId, profile }: MachinePlace): boolean {
  const isOneOf = (names: readonly string[], name: string | undefined) =>
    names.length === 0 || (name !== undefined && names.includes(name));
  return (
    isOneOf(only.fleets, fleetId) &&
    isOneOf(only.sites, profile.site) &&
    isOneOf(only.classes, profile.machineClass) &&
    isOneOf(only.machines, machineId)
  );
}

/** A spell: something that goes on, may be broken off for a moment or out of sight for a while, and is measured. */

import { modeCode } from './observed-block.js';

/** State of a spell. Times in epoch ms, lengths in ms. */
export interface Spell {
  /** Start, or null when nothing is going on. */
  readonly startedMs: number | null;
  /** End of the last stretch that belonged to it. */
  readonly lastMs: number;
  /** Observed length up to `lastMs`, interruptions that did not end it included. */
  readonly lengthMs: number;
  /** Interruption and silence since `lastMs`. */
  readonly brokenMs: number;
  readonly silentMs: number;
  /** Silence inside the spell, not counted in its length. */
  readonly hiddenMs: number;
}

export const noSpell: Spell = { startedMs: null, lastMs: 0, lengthMs: 0, brokenMs: 0, silentMs: 0, hiddenMs: 0 };

/** A spell while a block is folded. */
export interface OpenSpell {
  startedMs: number | null;
  lastMs: number;
  lengthMs: number;
  brokenMs: number;
  silentMs: number;
  hiddenMs: number;
}

/** Adds a stretch that belongs to the spell, starting one where there is none. */
export function extendSpell(spell: OpenSpell, fromMs: number, heldMs: number): void {
  if (spell.startedMs === null) {
    spell.startedMs = fromMs;
    spell.lengthMs = 0;
    spell.hiddenMs = 0;
  } else {
    spell.lengthMs += spell.brokenMs;
    spell.hiddenMs += spell.silentMs;
  }
  spell.brokenMs = 0;
  spell.silentMs = 0;
  spell.lengthMs += heldMs;
  spell.lastMs = fromMs + heldMs;
}

/** Adds an interruption; true when it has become long enough to end the spell. */
export function breakSpell(spell: OpenSpell, heldMs: number, endsAfterMs: number): boolean {
  if (spell.startedMs === null) return false;
  spell.brokenMs += heldMs;
  return spell.brokenMs >= endsAfterMs;
}

/** Adds time out of sight; true when it has become too long to bridge. */
export function hideSpell(spell: OpenSpell, unseenMs: number, bridgedMs: number): boolean {
  if (spell.startedMs === null) return false;
  spell.silentMs += unseenMs;
  return spell.silentMs > bridgedMs;
}

/** Adds a stretch without the engine seen running; true when it ends the spell: off at once, silence when it is too long. */
export function restSpell(spell: OpenSpell, stretch: { code: number; lengthMs: number; bridgedMs: number }): boolean {
  if (spell.startedMs === null || stretch.lengthMs <= 0) return false;
  return stretch.code !== modeCode.unobserved || hideSpell(spell, stretch.lengthMs, stretch.bridgedMs);
}

/** Forgets the spell. */
export function clearSpell(spell: OpenSpell): void {
  Object.assign(spell, noSpell);
}

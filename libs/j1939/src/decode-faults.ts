/** Payloads of DM1 (active) and DM2 (previously active): lamps and diagnostic trouble codes. */

import type { FaultCode, FaultReport, LampState } from '@warmbrick/signals';

export interface DecodedFaults {
  readonly lamps: FaultReport['lamps'];
  /** Raw flash byte; 255 when not supported. */
  readonly flash: number;
  readonly codes: readonly FaultCode[];
}

/** Bytes of lamps and flash before the first code. Source: SAE J1939-73, 5.7.1. */
const headerBytes = 2;
/** Bytes of one code. Source: SAE J1939-73, 5.7.1. */
const codeBytes = 4;
/** Suspect parameter number and failure mode of a field filled with ones. Source: all 19 and all 5 bits set. */
const allOnesSpn = 0x7ffff;
const allOnesFmi = 31;
/** Occurrence count that means "not counted". Source: SAE J1939-73. */
const occurrencesNotCounted = 127;

const lampStates: readonly LampState[] = ['off', 'on', 'reserved', 'unavailable'];

/**
 * Decodes the payload of a DM1 or DM2.
 *
 * Shapes: `data` without the padding of the transport protocol; a rest shorter than a code is padding.
 * Missing: an absent header reads as 'unavailable' and 255; codes of all zeros or all ones stand for "no fault" and are
 * skipped, so an empty list gives no codes.
 * Source: SAE J1939-73, 5.7.1, as used by pretty_j1939, python-can-j1939 and AgIsoStack++. Conversion method 0 is the
 * current layout (19-bit SPN, low byte first). Method 1 stands for one of three older layouts that the bits do not tell
 * apart, one of which is the same as the current one; such a code is read in the current layout and marked
 * `conversionMethod: 1`, so that whoever knows the controller can read it again.
 */
export function decodeFaults(data: Uint8Array): DecodedFaults {
  const lampByte = data[0] ?? 0xff;
  const codes: FaultCode[] = [];
  for (let at = headerBytes; at + codeBytes <= data.length; at += codeBytes) {
    const code = decodeCode(data, at);
    if (code) codes.push(code);
  }
  return {
    lamps: {
      malfunction: lampState(lampByte >>> 6),
      redStop: lampState(lampByte >>> 4),
      amberWarning: lampState(lampByte >>> 2),
      protect: lampState(lampByte),
    },
    flash: data[1] ?? 0xff,
    codes,
  };
}

function decodeCode(data: Uint8Array, at: number): FaultCode | null {
  const third = data[at + 2] as number;
  const fourth = data[at + 3] as number;
  const spn = (data[at] as number) | ((data[at + 1] as number) << 8) | ((third >>> 5) << 16);
  const fmi = third & 31;
  if (spn === 0 && fmi === 0) return null;
  if (spn === allOnesSpn && fmi === allOnesFmi) return null;
  const occurrences = fourth & 127;
  return {
    spn,
    fmi,
    occurrenceCount: occurrences === occurrencesNotCounted ? null : occurrences,
    conversionMethod: fourth >>> 7 === 0 ? 0 : 1,
  };
}

function lampState(bits: number): LampState {
  return lampStates[bits & 3] as LampState;
}

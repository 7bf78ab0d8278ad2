/** Which addresses a webhook may be sent to: those of the public internet, and what the administrator allows besides. */

import { type LookupAddress, lookup } from 'node:dns';
import type { LookupFunction } from 'node:net';
import { isIP } from 'node:net';
import ipaddr from 'ipaddr.js';

/** Says whether an address may be called. */
export type AddressGuard = (address: string) => boolean;

/** An address that must not be called; never tried again. */
export class ForbiddenAddress extends Error {
  readonly code = 'forbidden-address';
}

/**
 * Makes the guard. Private, loopback, link-local, multicast, reserved and tunnelled addresses are refused, also when they are
 * written as IPv6 that carries IPv4.
 *
 * Errors: throws on a range that is not in CIDR form; the configuration checks that before.
 * Source: IANA IPv4 and IPv6 special-purpose address registries, as ipaddr.js names them.
 */
export function addressGuard(allowedRanges: readonly string[]): AddressGuard {
  const allowed = allowedRanges.map((range) => ipaddr.parseCIDR(range));
  return (text) => {
    if (!ipaddr.isValid(text)) return false;
    const address = ipaddr.process(text);
    if (address.range() === 'unicast') return true;
    return allowed.some(([network, bits]) => network.kind() === address.kind() && address.match(network, bits));
  };
}

/**
 * A look-up of names that gives only allowed addresses. The connection is made to the very address that was checked, so a
 * name that changes between check and call gains nothing.
 */
export function guardedLookup(isAllowed: AddressGuard, resolve: typeof lookup = lookup): LookupFunction {
  return (hostname, options, callback) => {
    resolve(hostname, { ...options, all: true }, (error, found) => {
      if (error !== null) return callback(error, '', 0);
      const addresses = (found as LookupAddress[]).filter(({ address }) => isAllowed(address));
      const [first] = addresses;
      if (first === undefined || addresses.length < found.length) {
        return callback(new ForbiddenAddress(`${hostname} leads to an address that may not be called`), '', 0);
      }
      if (options.all === true) return callback(null, addresses);
      callback(null, first.address, first.family);
    });
  };
}

/** Refuses an address that is written out, which no look-up would see. Errors: throws ForbiddenAddress. */
export function checkLiteral(url: URL, isAllowed: AddressGuard): void {
  const host = url.hostname.replace(/^\[|\]$/g, '');
  if (isIP(host) !== 0 && !isAllowed(host)) throw new ForbiddenAddress(`${host} may not be called`);
}

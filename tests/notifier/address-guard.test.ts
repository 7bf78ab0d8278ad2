/** Source: IANA IPv4 and IPv6 special-purpose address registries; addresses from their blocks, chosen from memory. */

import type { LookupAddress, lookup } from 'node:dns';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addressGuard, checkLiteral, guardedLookup } from '../../services/notifier/src/webhook/address-guard.js';

const forbidden = [
  ['this network (RFC 791)', '0.0.0.0'],
  ['private (RFC 1918)', '10.1.2.3'],
  ['shared (RFC 6598)', '100.64.0.1'],
  ['loopback (RFC 1122)', '127.0.0.1'],
  ['link-local (RFC 3927), the metadata services of clouds', '169.254.169.254'],
  ['private (RFC 1918)', '172.16.0.1'],
  ['private (RFC 1918)', '192.168.1.1'],
  ['documentation (RFC 5737)', '203.0.113.9'],
  ['multicast (RFC 5771)', '224.0.0.1'],
  ['reserved (RFC 1112)', '240.0.0.1'],
  ['limited broadcast (RFC 919)', '255.255.255.255'],
  ['unspecified (RFC 4291)', '::'],
  ['loopback (RFC 4291)', '::1'],
  ['IPv4 inside IPv6 (RFC 4291)', '::ffff:127.0.0.1'],
  ['IPv4 inside IPv6, in hexadecimal', '::ffff:a00:1'],
  ['translation (RFC 6052)', '64:ff9b::7f00:1'],
  ['6to4 (RFC 3056)', '2002:7f00:1::'],
  ['Teredo (RFC 4380)', '2001:0:7f00:1::'],
  ['unique local (RFC 4193)', 'fd12:3456::1'],
  ['link-local (RFC 4291)', 'fe80::1'],
  ['multicast (RFC 4291)', 'ff02::1'],
  ['documentation (RFC 3849)', '2001:db8::1'],
  ['no address at all', 'localhost'],
] as const;

describe('addresses that may be called', () => {
  const isAllowed = addressGuard([]);

  it.each(forbidden)('are not %s: %s', (_, address) => {
    expect(isAllowed(address)).toBe(false);
  });

  it.each(['1.1.1.1', '93.184.216.34', '2606:4700:4700::1111', '::ffff:1.1.1.1'])('are public: %s', (address) => {
    expect(isAllowed(address)).toBe(true);
  });

  it('are those of ranges that are named besides, and no others of their kind', () => {
    const own = addressGuard(['10.20.0.0/16', 'fd00:1::/32']);
    expect(['10.20.255.1', '::ffff:10.20.0.1', 'fd00:1::9'].map(own)).toEqual([true, true, true]);
    expect(['10.21.0.1', '127.0.0.1', 'fd00:2::9'].map(own)).toEqual([false, false, false]);
  });

  it('are never any of 10/8, however written', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 0xffffff }), (rest) => {
        const bytes = [10, rest >> 16, (rest >> 8) & 255, rest & 255];
        const mapped = `::ffff:${((bytes[0] as number) * 256 + (bytes[1] as number)).toString(16)}:${((bytes[2] as number) * 256 + (bytes[3] as number)).toString(16)}`;
        expect(isAllowed(bytes.join('.'))).toBe(false);
        expect(isAllowed(mapped)).toBe(false);
      }),
    );
  });
});

describe('a written address', () => {
  const isAllowed = addressGuard([]);

  it.each(['http://127.0.0.1/', 'http://[::1]:80/', 'http://2130706433/', 'http://0x7f.1/', 'http://[::ffff:7f00:1]/'])(
    'is refused in %s',
    (url) => {
      expect(() => checkLiteral(new URL(url), isAllowed)).toThrow('may not be called');
    },
  );

  it('is taken when it is public', () => {
    expect(() => checkLiteral(new URL('http://1.1.1.1/'), isAllowed)).not.toThrow();
  });
});

describe('the look-up of names', () => {
  const answering = (...addresses: LookupAddress[]) =>
    ((_: string, __: object, callback: (error: null, found: LookupAddress[]) => void) =>
      callback(null, addresses)) as unknown as typeof lookup;
  const ask = (resolve: typeof lookup, options: object) =>
    new Promise((done) =>
      guardedLookup(addressGuard([]), resolve)('name.example', options, (...answer) => done(answer)),
    );

  it('gives the public address that it has checked', async () => {
    const resolve = answering({ address: '1.1.1.1', family: 4 });
    expect(await ask(resolve, {})).toEqual([null, '1.1.1.1', 4]);
    expect(await ask(resolve, { all: true })).toEqual([null, [{ address: '1.1.1.1', family: 4 }]]);
  });

  it('refuses a name that leads inside, wholly or in part', async () => {
    for (const inside of ['127.0.0.1', '169.254.169.254', '::1']) {
      const family = inside.includes(':') ? 6 : 4;
      const [alone] = (await ask(answering({ address: inside, family }), { all: true })) as [Error];
      const mixed = answering({ address: '1.1.1.1', family: 4 }, { address: inside, family });
      const [both] = (await ask(mixed, { all: true })) as [Error];
      expect([alone, both].map(({ message }) => message)).toEqual(
        Array(2).fill('name.example leads to an address that may not be called'),
      );
    }
  });
});

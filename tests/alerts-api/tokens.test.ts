import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { exportJWK, exportSPKI, generateKeyPair, SignJWT, UnsecuredJWT } from 'jose';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type ApiWorld, asKey, startApiWorld } from './api-world.js';

/** An identity provider of our own on loopback. */
interface Issuer {
  readonly url: string;
  readonly server: Server;
  asked: number;
}

type Pair = Awaited<ReturnType<typeof generateKeyPair>>;
let issuer: Issuer;
let pair: Pair;
let world: ApiWorld;

async function startIssuer(keys: () => object): Promise<Issuer> {
  const server = createServer((request, response) => {
    response.setHeader('content-type', 'application/json');
    if (request.url === '/.well-known/openid-configuration') {
      response.end(JSON.stringify({ issuer: started.url, jwks_uri: `${started.url}/keys` }));
      return;
    }
    started.asked++;
    response.end(JSON.stringify(keys()));
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const started: Issuer = { url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`, server, asked: 0 };
  return started;
}

beforeAll(async () => {
  pair = await generateKeyPair('ES256');
  const jwk = { ...(await exportJWK(pair.publicKey)), kid: 'one', alg: 'ES256', use: 'sig' };
  issuer = await startIssuer(() => ({ keys: [jwk] }));
  const tokens = { issuer: issuer.url, audience: 'warmbrick', roleClaim: 'access.roles', fleetsClaim: 'fleets' };
  world = await startApiWorld({ access: { isLocalOpen: false, tokens } });
});
afterAll(async () => {
  await world.stop();
  issuer.server.close();
});

const usual = { sub: 'person-7', name: 'Dispatcher', access: { roles: ['analyst', 'unheard-of'] }, fleets: ['north'] };
function signed(claims: object = {}, header: object = {}) {
  return new SignJWT({ iss: issuer.url, aud: 'warmbrick', ...usual, ...claims })
    .setProtectedHeader({ alg: 'ES256', kid: 'one', ...header })
    .setIssuedAt()
    .setExpirationTime('10 min');
}
const ask = (token: string, url = '/v1/caller') => world.app.inject({ url, headers: asKey(token) });

// Source: RFC 7519, 4.1; OpenID Connect Core 1.0, 3.1.3.7; RFC 8725, 3.
describe('a token of the identity provider', () => {
  it('says who it is, the role and the fleets', async () => {
    const answer = await ask(await signed().sign(pair.privateKey));
    expect(answer.json()).toEqual({
      keyId: 'token:person-7',
      name: 'Dispatcher',
      role: 'analyst',
      fleets: ['north'],
      isSignedIn: true,
    });
    const machines = await ask(await signed().sign(pair.privateKey), '/v1/machines');
    expect(machines.json().items.map(({ machineId }: { machineId: string }) => machineId)).toEqual(['north-1']);
    expect((await ask(await signed().sign(pair.privateKey), '/v1/keys')).json().code).toBe('role-too-low');
  });

  it('sees all fleets by *, and none without a claim', async () => {
    const all = await ask(await signed({ fleets: '*' }).sign(pair.privateKey), '/v1/machines');
    expect(all.json().items).toHaveLength(2);
    const none = await ask(await signed({ fleets: undefined }).sign(pair.privateKey), '/v1/machines');
    expect(none.json().items).toEqual([]);
  });

  it('is not taken when anything about it is wrong', async () => {
    const stranger = await generateKeyPair('ES256');
    const hmac = new TextEncoder().encode(await exportSPKI(pair.publicKey));
    const wrong: Record<string, string> = {
      'another issuer': await signed({ iss: 'https://evil.example' }).sign(pair.privateKey),
      'another audience': await signed({ aud: 'payroll' }).sign(pair.privateKey),
      'another key': await signed().sign(stranger.privateKey),
      'an unknown key id': await signed({}, { kid: 'two' }).sign(pair.privateKey),
      expired: await signed().setExpirationTime('-2 min').sign(pair.privateKey),
      'not yet': await signed().setNotBefore('10 min').sign(pair.privateKey),
      'no role of ours': await signed({ access: { roles: ['owner'] } }).sign(pair.privateKey),
      'no subject': await signed({ sub: undefined }).sign(pair.privateKey),
      'no signature': new UnsecuredJWT({ ...usual, iss: issuer.url, aud: 'warmbrick' })
        .setIssuedAt()
        .setExpirationTime('1h')
        .encode(),
      'the public key as a secret': await signed({}, { alg: 'HS256' }).sign(hmac),
      'no token at all': 'eyJ.eyJ.x',
      'far too long': `${await signed({ pad: 'x'.repeat(9000) }).sign(pair.privateKey)}`,
    };
    for (const [what, token] of Object.entries(wrong)) {
      const answer = await world.app.inject({
        url: '/v1/caller',
        headers: asKey(token),
        remoteAddress: `203.0.113.${what.length}`,
      });
      expect([answer.statusCode, answer.json().code], what).toEqual([401, 'key-invalid']);
    }
    // Within what clocks may be apart.
    expect((await ask(await signed().setExpirationTime('-10 s').sign(pair.privateKey))).statusCode).toBe(200);
  });

  it('does not make us ask for keys again and again', async () => {
    const before = issuer.asked;
    for (let n = 0; n < 20; n++) await ask(await signed({}, { kid: `guess-${n}` }).sign(pair.privateKey));
    expect(issuer.asked - before).toBeLessThanOrEqual(1);
  });

  it('without a provider that answers is a failure to try again, not a refusal', async () => {
    const gone = await startIssuer(() => ({}));
    gone.server.close();
    const away = await startApiWorld({
      access: { isLocalOpen: false, tokens: { issuer: gone.url, audience: 'warmbrick' } },
    });
    const answer = await away.app.inject({
      url: '/v1/caller',
      headers: asKey(await signed({ iss: gone.url }).sign(pair.privateKey)),
    });
    expect([answer.statusCode, answer.json().code]).toEqual([503, 'identity-provider-unreachable']);
    expect((await away.app.inject({ url: '/v1/caller', headers: asKey(away.keys.viewer) })).statusCode).toBe(200);
    await away.stop();
  });
});

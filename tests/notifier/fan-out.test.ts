import { toAlertMessage } from '@warmbrick/contracts';
import type { Destination } from '@warmbrick/store';
import { describe, expect, it } from 'vitest';
import { deliveriesOf } from '../../services/notifier/src/fan-out.js';
import { alertEvent, destinationOf } from './alerts.js';

const nowMs = Date.UTC(2026, 10, 10, 22, 10);
const places = new Map([['m', { name: 'Loader m', fleetId: 'main', site: 'Skarnfell' }]]);

function plan(events: Parameters<typeof alertEvent>[2][], ...destinations: Destination[]) {
  const messages = events.map((event, sequence) => toAlertMessage(alertEvent('m', sequence, event)));
  return deliveriesOf(messages, { destinations, places, publicUrl: 'https://warm.example', nowMs });
}
const heard = (deliveries: ReturnType<typeof plan>) => deliveries.map((it) => [it.destinationId, it.onlyIfHeard]);
const withSeverity = (severity: 'info' | 'severe') => ({ alert: { ...alertEvent('m', 0).alert, severity } });

describe('who hears of an alert', () => {
  it('is every destination of its fleet that is on and whose filters fit', () => {
    const deliveries = plan(
      [{}],
      destinationOf('all'),
      destinationOf('off', { isEnabled: false }),
      destinationOf('other-fleet', { fleetId: 'north' }),
      destinationOf('site', { sites: ['Skarnfell'] }),
      destinationOf('other-site', { sites: ['Elsewhere'] }),
      destinationOf('machine', { machineIds: ['m'] }),
      destinationOf('other-machine', { machineIds: ['n'] }),
      destinationOf('rule', { rules: ['idle-hour'] }),
      destinationOf('other-rule', { rules: ['hot-stop'] }),
      destinationOf('severe', { leastSeverity: 'severe' }),
    );
    expect(deliveries.map((it) => it.destinationId)).toEqual(['all', 'site', 'machine', 'rule']);
  });

  it('hears of the end only if it heard of the beginning', () => {
    const end = { step: 'closed', notice: 'inform' } as const;
    expect(heard(plan([end], destinationOf('d')))).toEqual([['d', true]]);
    expect(heard(plan([{}, end], destinationOf('d')))).toEqual([
      ['d', false],
      ['d', false],
    ]);
    const eased = { step: 'eased', notice: 'inform', ...withSeverity('info') } as const;
    expect(heard(plan([eased], destinationOf('d', { leastSeverity: 'warning' })))).toEqual([['d', true]]);
  });

  it('is nobody for what is only for the record, and for the past only who asked', () => {
    expect(plan([{ step: 'commented', notice: 'quiet' }], destinationOf('d'))).toEqual([]);
    const past = { notice: 'quiet', quietBecause: 'past' } as const;
    expect(heard(plan([past], destinationOf('d'), destinationOf('p', { includesPast: true })))).toEqual([['p', false]]);
  });

  it('is whom an escalation names, else everybody it fits', () => {
    const step = { step: 'escalated', escalateTo: 'Site lead' } as const;
    const lead = destinationOf('lead', { name: 'Site lead', leastSeverity: 'severe' });
    expect(heard(plan([step], destinationOf('d'), lead))).toEqual([['lead', false]]);
    expect(heard(plan([step], destinationOf('d')))).toEqual([['d', false]]);
  });
});

describe('what is written for it', () => {
  it('is a CloudEvent whose bytes and id stay the same', () => {
    const [first] = plan([{}], destinationOf('d'));
    const [again] = plan([{}], destinationOf('d'));
    expect(again).toEqual(first);
    const event = JSON.parse(first?.body ?? '');
    // Source: CloudEvents 1.0, "Required attributes" and "Optional attributes".
    expect(event).toMatchObject({
      specversion: '1.0',
      id: first?.id,
      source: 'https://warm.example',
      type: 'warmbrick.alert.opened.v1',
      subject: 'm',
      time: '2026-11-10T10:00:00.500Z',
      datacontenttype: 'application/json',
    });
    expect(event.data.links.page).toMatch(/^https:\/\/warm\.example\/alerts\?alert=/);
  });

  it('is for mail a plain part and the same as a page, with the caution, in the time of the machine', () => {
    const [mail] = plan([{}], destinationOf('d', { kind: 'mail', address: 'lead@site.example' }));
    expect(mail?.subject).toBe('Loader m: Idle for over an hour');
    expect(mail?.text).toContain('It has been idling for 61 min <with> "marks".');
    expect(mail?.text).toContain('Caution: The manual of the machine comes first.');
    expect(mail?.text).toContain('Began: 10 Nov 2026, 10:00 (Europe/Oslo)');
    expect(mail?.body).toContain('&lt;with&gt; &quot;marks&quot;');
    expect(mail?.body).not.toContain('<with>');
  });

  it('says openly what it corrects and what is over', () => {
    const said = (event: Parameters<typeof alertEvent>[2]) => plan([event], destinationOf('d', { kind: 'mail' }))[0];
    expect(said({ step: 'corrected', notice: 'inform', corrects: 0 })?.text).toContain('This corrects what was said');
    expect(said({ step: 'closed', notice: 'inform' })?.subject).toBe('Over: Loader m: Idle for over an hour');
    expect(said({ step: 'withdrawn', notice: 'inform' })?.subject).toMatch(/^Taken back: /);
  });

  it('keeps to one line in the subject', () => {
    const words = { ...alertEvent('m', 0).words, title: 'a\r\nBcc: all@site.example' };
    const [mail] = plan([{ words }], destinationOf('d', { kind: 'mail' }));
    expect(mail?.subject).not.toMatch(/[\r\n]/);
  });
});

describe('when it goes out', () => {
  const night = { timeZone: 'Europe/Oslo', from: '22:00', to: '06:00' };

  it('is at once, or after quiet hours unless it is severe', () => {
    const quiet = destinationOf('d', { quiet: night });
    expect(plan([{}], destinationOf('d'))[0]?.availableMs).toBe(nowMs);
    expect(plan([{}], quiet)[0]?.availableMs).toBe(Date.UTC(2026, 10, 11, 5));
    expect(plan([withSeverity('severe')], quiet)[0]?.availableMs).toBe(nowMs);
  });

  it('is for a digest the end of its span', () => {
    const digest = destinationOf('d', { kind: 'mail', digestMinutes: 60 });
    expect(plan([{}], digest)[0]?.availableMs).toBe(Date.UTC(2026, 10, 10, 23));
    expect(plan([withSeverity('severe')], digest)[0]?.availableMs).toBe(nowMs);
  });
});

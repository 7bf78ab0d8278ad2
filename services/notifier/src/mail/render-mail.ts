/** A mail about one step of an alert's life: subject, plain words and the same as a simple page. */

import type { AlertMessage } from '@warmbrick/contracts';

export interface RenderedMail {
  readonly subject: string;
  readonly text: string;
  readonly html: string;
}

/** What the step says in front of the alert's title; a step without an entry only says the title. */
const stepWords: Readonly<Partial<Record<AlertMessage['step'], string>>> = {
  worsened: 'Worse',
  eased: 'Eased',
  unknown: 'No data any more',
  known: 'Data is back',
  'caught-up': 'Still going on',
  closed: 'Over',
  corrected: 'Corrected',
  withdrawn: 'Taken back',
  reopened: 'Not over after all',
  escalated: 'Nobody has answered',
};

const severityWords: Readonly<Record<AlertMessage['severity'], string>> = {
  info: 'For information',
  notice: 'Notice',
  warning: 'Warning',
  severe: 'Severe',
};

/** Longest subject, characters. Source: RFC 5322, 2.1.1 recommends lines of 78. */
const longestSubject = 120;

/** Renders the mail. @param publicUrl as for webhooks */
export function renderMail(message: AlertMessage, publicUrl: string): RenderedMail {
  const { group, title, advice, caution } = message;
  const word = stepWords[message.step];
  const subject = `${word === undefined ? '' : `${word}: `}${group.machineName}: ${title}`
    .replace(/[\r\n]+/g, ' ')
    .slice(0, longestSubject);
  const lines = [
    word === undefined ? message.text : `${word}. ${message.text}`,
    message.corrects === null ? '' : 'This corrects what was said before: later data changed it.',
    message.isPast ? 'This is about the past: the data arrived late.' : '',
    advice ?? '',
    caution === null ? '' : `Caution: ${caution}`,
  ].filter((line) => line !== '');
  const facts: [string, string][] = [
    ['Machine', `${group.machineName}${group.site === null ? '' : `, ${group.site}`}`],
    ['Severity', severityWords[message.severity]],
    ['Began', localTime(message.startedAt, group.timeZone)],
    ...(message.endedAt === null ? [] : [['Ended', localTime(message.endedAt, group.timeZone)] as [string, string]]),
  ];
  const link = publicUrl + message.links.page;
  return {
    subject,
    text: [...lines, '', ...facts.map(([name, value]) => `${name}: ${value}`), '', `See: ${link}`, ''].join('\n'),
    html: `${lines.map((line) => `<p>${escaped(line)}</p>`).join('\n')}
<table>${facts.map(([name, value]) => `<tr><th align="left">${name}</th><td>${escaped(value)}</td></tr>`).join('')}</table>
<p><a href="${escaped(link)}">See the alert</a></p>
`,
  };
}

/** Puts several mails together, in the order given. */
export function renderDigest(mails: readonly RenderedMail[]): RenderedMail {
  return {
    subject: `${mails.length} messages about machines`,
    text: mails
      .map(({ subject, text }) => `${subject}\n${'-'.repeat(Math.min(72, subject.length))}\n${text}`)
      .join('\n'),
    html: mails.map(({ subject, html }) => `<h2>${escaped(subject)}</h2>\n${html}`).join('<hr>\n'),
  };
}

function localTime(instant: string, timeZone: string): string {
  const text = new Intl.DateTimeFormat('en-GB', { timeZone, dateStyle: 'medium', timeStyle: 'short' }).format(
    Date.parse(instant),
  );
  return `${text} (${timeZone})`;
}

function escaped(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
}

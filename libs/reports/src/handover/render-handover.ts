/** A handover document in the form that was asked for. */

import type { HandoverDocument, HandoverFormat } from '@warmbrick/contracts';
import { pageStylePolicy, sheetHtml } from '../print/sheet-html.js';
import { sheetPdf } from '../print/sheet-pdf.js';
import { handoverCsv } from './handover-csv.js';
import { handoverSheet } from './handover-sheet.js';

export interface RenderedHandover {
  readonly body: Uint8Array | string;
  readonly contentType: string;
  /** Name for saving it; tells no more of the machine than the sheet itself. */
  readonly fileName: string;
  /** What a browser may do with it: its own style and nothing else. null where it is no page. */
  readonly contentSecurityPolicy: string | null;
}

const contentTypes: Readonly<Record<HandoverFormat, string>> = {
  json: 'application/json; charset=utf-8',
  csv: 'text/csv; charset=utf-8; header=present',
  html: 'text/html; charset=utf-8',
  pdf: 'application/pdf',
};

/** Renders the sheet; the same document gives the same bytes. */
export async function renderHandover(document: HandoverDocument, format: HandoverFormat): Promise<RenderedHandover> {
  const { machine, period } = document;
  const name = `handover-${machine.label}-${period.from.slice(0, 10)}-${period.to.slice(0, 10)}`;
  return {
    body: await bodyOf(document, format),
    contentType: contentTypes[format],
    fileName: `${name.replace(/[^A-Za-z0-9]+/g, '-').toLowerCase()}.${format}`,
    contentSecurityPolicy:
      format === 'html'
        ? `default-src 'none'; style-src ${pageStylePolicy}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'`
        : null,
  };
}

async function bodyOf(document: HandoverDocument, format: HandoverFormat): Promise<Uint8Array | string> {
  switch (format) {
    case 'json':
      return `${JSON.stringify(document, null, 1)}\n`;
    case 'csv':
      return handoverCsv(document);
    case 'html':
      return sheetHtml(handoverSheet(document));
    case 'pdf':
      return sheetPdf(handoverSheet(document), Date.parse(document.madeAt));
  }
}

/** A sheet as PDF: A4, black on white, standard fonts, the same bytes for the same sheet and time. */

import { setImmediate as breathe } from 'node:timers/promises';
import PDFDocument from 'pdfkit';
import { createPdfPen, type PdfPen } from './pdf-pen.js';
import { drawTable, drawWindow, windowHeight } from './pdf-tables.js';
import type { PrintBlock, PrintSheet } from './print-sheet.js';
import { winAnsiText } from './win-ansi-text.js';

/** Points. Source: ISO 216, A4 210 x 297 mm; margins are common practice for office printers. */
const margins = { top: 46, bottom: 56, left: 42, right: 42 };
const blocksPerTurn = 8;
const footY = 841.89 - 38;

/**
 * Renders the sheet.
 *
 * Texts are set in Helvetica with the WinAnsi characters that every reader has; others are written with their nearest
 * letters. `madeAtMs` is the document's date: nothing in the bytes comes from the clock.
 */
export async function sheetPdf(sheet: PrintSheet, madeAtMs: number): Promise<Uint8Array> {
  const doc = new PDFDocument({
    size: 'A4',
    margins,
    bufferPages: true,
    autoFirstPage: true,
    lang: 'en',
    displayTitle: true,
    info: {
      Title: winAnsiText(sheet.title),
      CreationDate: new Date(madeAtMs),
      Producer: 'Warmbrick',
      Creator: 'Warmbrick',
    },
  });
  const bytes = collect(doc);
  const pen = createPdfPen(doc);
  pen.write(sheet.title, { size: 18, isBold: true, after: 2 });
  pen.write(sheet.subtitle, { size: 10, after: 4 });
  pen.rule(1.5);
  for (const [at, block] of sheet.blocks.entries()) {
    if (block.kind === 'heading') pen.need(togetherHeight(sheet.blocks, at));
    drawBlock(pen, block);
    // A long sheet takes seconds; others get their turn in between.
    if (at % blocksPerTurn === 0) await breathe();
  }
  numberPages(doc, sheet);
  doc.end();
  return bytes;
}

function collect(doc: PDFKit.PDFDocument): Promise<Uint8Array> {
  const pieces: Uint8Array[] = [];
  return new Promise((resolve, reject) => {
    doc.on('data', (piece: Uint8Array) => pieces.push(piece));
    doc.on('error', reject);
    doc.on('end', () => resolve(Buffer.concat(pieces)));
  });
}

function drawBlock(pen: PdfPen, block: PrintBlock): void {
  switch (block.kind) {
    case 'heading':
      drawHeading(pen, block);
      break;
    case 'text':
      pen.write(block.text, block.isQuiet === true ? { size: 8.5, grey: 0.25, after: 4 } : { after: 5 });
      break;
    case 'list':
      for (const item of block.items) pen.write(item, { bullet: true, after: 2 });
      pen.space(3);
      break;
    case 'facts':
      drawFacts(pen, block.rows);
      break;
    case 'caution':
      pen.boxed(`Caution. ${block.text}`);
      break;
    case 'table':
      drawTable(pen, block);
      break;
    case 'window':
      drawWindow(pen, block);
      break;
  }
}

/** About how high a block is, or as much of it as has to stand under its heading; points. */
const leastHeights: Readonly<Record<PrintBlock['kind'], number>> = {
  heading: 26,
  text: 18,
  list: 30,
  facts: 30,
  caution: 60,
  table: 70,
  window: 0,
};

/** Height of a heading with what has to stay under it: further headings, short texts, and the first thing after those. */
function togetherHeight(blocks: readonly PrintBlock[], from: number): number {
  let height = 0;
  for (const block of blocks.slice(from, from + 4)) {
    height += block.kind === 'window' ? windowHeight(block) : leastHeights[block.kind];
    if (block.kind !== 'heading' && block.kind !== 'text') break;
  }
  return height;
}

function drawHeading(pen: PdfPen, { level, text }: Extract<PrintBlock, { kind: 'heading' }>): void {
  pen.space(level === 2 ? 10 : 5);
  pen.write(text, { size: level === 2 ? 13 : 10.5, isBold: true, after: level === 2 ? 1 : 2 });
  if (level === 2) pen.rule(0.75);
}

/** Two pairs side by side, each as tall as its taller value. */
function drawFacts(pen: PdfPen, rows: readonly (readonly [string, string])[]): void {
  const nameWidth = 92;
  const pairWidth = pen.width / 2;
  const valueWidth = pairWidth - nameWidth - 10;
  for (let at = 0; at < rows.length; at += 2) {
    const pair = rows.slice(at, at + 2);
    const height = Math.max(
      ...pair.map(([, value]) => pen.heightOf(value, { width: valueWidth, size: 9, isBold: true })),
    );
    pen.need(height + 4);
    for (const [place, [name, value]] of pair.entries()) {
      const x = pen.left + place * pairWidth;
      pen.put(name, { x, width: nameWidth - 4, size: 9, grey: 0.25 });
      pen.put(value, { x: x + nameWidth, width: valueWidth, size: 9, isBold: true });
    }
    pen.space(height + 2);
    pen.line(0.25, 0.5);
    pen.space(2);
  }
  pen.space(4);
}

function numberPages(doc: PDFKit.PDFDocument, { foot }: PrintSheet): void {
  const { start, count } = doc.bufferedPageRange();
  for (let page = start; page < start + count; page++) {
    doc.switchToPage(page);
    // Below the margin, where text would otherwise open a new page.
    doc.page.margins.bottom = 0;
    doc.font('Helvetica').fontSize(8).fillColor('black');
    const width = doc.page.width - margins.left - margins.right;
    doc.text(winAnsiText(foot), margins.left, footY, { width: width - 70, lineBreak: false, ellipsis: true });
    doc.text(`page ${page - start + 1} of ${count}`, margins.left + width - 70, footY, { width: 70, align: 'right' });
  }
}

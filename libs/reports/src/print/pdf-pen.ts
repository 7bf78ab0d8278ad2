/** Writing down a page from top to bottom: what does not fit goes on the next one. */

import { winAnsiText } from './win-ansi-text.js';

interface PenStyle {
  /** Points; default 9.5. */
  readonly size?: number;
  readonly isBold?: boolean;
  /** 0 black to 1 white. */
  readonly grey?: number;
}

interface WriteStyle extends PenStyle {
  /** Points left free after it. */
  readonly after?: number;
  readonly bullet?: boolean;
}

interface PutStyle extends PenStyle {
  readonly x: number;
  readonly width: number;
  readonly align?: 'left' | 'right';
}

export interface PdfPen {
  readonly doc: PDFKit.PDFDocument;
  readonly left: number;
  readonly width: number;
  /** Opens a new page when less than this is left; true when it did. */
  need(height: number): boolean;
  space(height: number): void;
  /** Writes a paragraph over the whole width and goes below it. */
  write(text: string, style?: WriteStyle): void;
  /** Writes into a column at the present height and stays there. */
  put(text: string, style: PutStyle): void;
  heightOf(text: string, style: PenStyle & { readonly width: number }): number;
  /** A thick or thin line over the whole width with room after it. */
  rule(weight: number): void;
  /** The same without room. */
  line(weight: number, grey: number): void;
  /** A paragraph in a frame with a heavy left edge. */
  boxed(text: string): void;
}

const usualSize = 9.5;

/** A pen at the top of a fresh document. */
export function createPdfPen(doc: PDFKit.PDFDocument): PdfPen {
  const left = doc.page.margins.left;
  const width = doc.page.width - left - doc.page.margins.right;
  const need = (height: number) => {
    if (doc.y + height <= doc.page.height - doc.page.margins.bottom) return false;
    doc.addPage();
    return true;
  };
  const line = (weight: number, grey: number) => {
    doc.lineWidth(weight).strokeColor(greyColour(grey));
    doc
      .moveTo(left, doc.y)
      .lineTo(left + width, doc.y)
      .stroke();
  };
  const heightOf: PdfPen['heightOf'] = (text, style) => textHeight(doc, text, style);
  const pen: PdfPen = {
    doc,
    left,
    width,
    need,
    heightOf,
    line,
    space: (height) => {
      doc.y += height;
    },
    write(text, { after = 3, bullet = false, ...style } = {}) {
      const indent = bullet ? 10 : 0;
      need(Math.min(heightOf(text, { ...style, width: width - indent }), 40));
      if (bullet) pen.put('\u2022', { x: left, width: indent, ...style });
      setStyle(doc, style);
      doc.text(winAnsiText(text), left + indent, doc.y, { width: width - indent, lineGap: 1 });
      doc.y += after;
    },
    put(text, { x, width: columnWidth, align = 'left', ...style }) {
      const { y } = doc;
      setStyle(doc, style);
      doc.text(winAnsiText(text), x, y, { width: columnWidth, align, lineGap: 1 });
      doc.y = y;
    },
    rule(weight) {
      line(weight, 0);
      doc.y += 5;
    },
    boxed: (text) => drawBox(pen, text),
  };
  return pen;
}

function setStyle(doc: PDFKit.PDFDocument, { size = usualSize, isBold = false, grey = 0 }: PenStyle): void {
  doc
    .font(isBold ? 'Helvetica-Bold' : 'Helvetica')
    .fontSize(size)
    .fillColor(greyColour(grey));
}

function greyColour(grey: number): [number, number, number] {
  const level = Math.round(grey * 255);
  return [level, level, level];
}

function textHeight(doc: PDFKit.PDFDocument, text: string, style: PenStyle & { readonly width: number }): number {
  setStyle(doc, style);
  return doc.heightOfString(winAnsiText(text) || ' ', { width: style.width, lineGap: 1 });
}

function drawBox({ doc, left, width, need }: PdfPen, text: string): void {
  const inner = width - 20;
  const height = textHeight(doc, text, { width: inner }) + 10;
  need(height + 4);
  const { y } = doc;
  doc.lineWidth(1).strokeColor('black').rect(left, y, width, height).stroke();
  doc.rect(left, y, 5, height).fill('black');
  setStyle(doc, {});
  doc.text(winAnsiText(text), left + 12, y + 6, { width: inner, lineGap: 1 });
  doc.y = y + height + 8;
}

/** Tables on paper: heads repeated on every page, rows never torn apart, small courses beside their values. */

import { courseRuns } from './course-path.js';
import type { PdfPen } from './pdf-pen.js';
import type { PrintBlock, PrintColumn, PrintCourse } from './print-sheet.js';

type TableBlock = Extract<PrintBlock, { kind: 'table' }>;
type WindowBlock = Extract<PrintBlock, { kind: 'window' }>;

/** Points. */
const textSize = 8;
const cellGap = 6;
const rowPad = 2;
const courseBox = { width: 84, height: 11 };
const labelWidth = 112;

interface Cell {
  readonly x: number;
  readonly width: number;
  readonly isNumber: boolean;
}

/** Draws a table with its title. */
export function drawTable(pen: PdfPen, { title, columns, rows }: TableBlock): void {
  const cells = cellsOf(pen, columns);
  const drawHead = () => {
    drawRow(pen, { cells, texts: columns.map(({ head }) => head), isBold: true });
    pen.line(1, 0);
    pen.space(rowPad);
  };
  const headHeight = rowHeight(pen, { cells, texts: columns.map(({ head }) => head), isBold: true });
  const firstHeight = rows[0] === undefined ? 0 : rowHeight(pen, { cells, texts: rows[0], isBold: false });
  pen.need(16 + headHeight + firstHeight + 10);
  pen.write(title, { size: 9, isBold: true, after: 2 });
  drawHead();
  for (const texts of rows) {
    const row = { cells, texts, isBold: false };
    if (pen.need(rowHeight(pen, row) + 2 * rowPad)) drawHead();
    drawRow(pen, row);
    pen.line(0.25, 0.5);
    pen.space(rowPad);
  }
  pen.space(7);
}

interface TableRow {
  readonly cells: readonly Cell[];
  readonly texts: readonly string[];
  readonly isBold: boolean;
}

function cellsOf({ left, width }: PdfPen, columns: readonly PrintColumn[]): Cell[] {
  const shares = columns.reduce((sum, { share }) => sum + share, 0);
  let x = left;
  return columns.map(({ share, isNumber = false }) => {
    const cell = { x, width: (width * share) / shares - cellGap, isNumber };
    x += (width * share) / shares;
    return cell;
  });
}

function rowHeight(pen: PdfPen, { cells, texts, isBold }: TableRow): number {
  const heights = cells.map(({ width }, at) => pen.heightOf(texts[at] ?? '', { width, size: textSize, isBold }));
  return Math.max(...heights);
}

function drawRow(pen: PdfPen, row: TableRow): void {
  const height = rowHeight(pen, row);
  for (const [at, { x, width, isNumber }] of row.cells.entries()) {
    const align = isNumber ? 'right' : 'left';
    pen.put(row.texts[at] ?? '', { x, width, align, size: textSize, isBold: row.isBold });
  }
  pen.space(height + rowPad);
}

/** Points of one line of a window. */
const lineHeight = 13;

/** How high a window is. */
export function windowHeight({ rows }: WindowBlock): number {
  return 34 + lineHeight * rows.length;
}

/** Draws the signals around an event; it stays on one page. */
export function drawWindow(pen: PdfPen, block: WindowBlock): void {
  pen.need(windowHeight(block));
  pen.write(block.title, { size: 9, isBold: true, after: 2 });
  const markWidth = (pen.width - labelWidth - courseBox.width - 10) / Math.max(1, block.marks.length);
  const marksX = pen.left + labelWidth + courseBox.width + 10;
  const putMarks = (texts: readonly string[], isBold: boolean) => {
    for (const [at, text] of texts.entries()) {
      const x = marksX + at * markWidth;
      pen.put(text, { x, width: markWidth - 2, align: 'right', size: textSize, isBold });
    }
  };
  pen.put('signal', { x: pen.left, width: labelWidth, size: textSize, isBold: true });
  pen.put('course', { x: pen.left + labelWidth, width: courseBox.width, size: textSize, isBold: true });
  putMarks(block.marks, true);
  pen.space(lineHeight - 2);
  pen.line(1, 0);
  pen.space(rowPad);
  for (const row of block.rows) {
    pen.put(row.label, { x: pen.left, width: labelWidth - 4, size: textSize });
    drawCourse(pen, row, block.eventRatio);
    putMarks(row.cells, false);
    pen.space(lineHeight - rowPad);
    pen.line(0.25, 0.5);
    pen.space(rowPad);
  }
  pen.space(7);
}

function drawCourse({ doc, left }: PdfPen, { course }: PrintCourse, eventRatio: number): void {
  const { y } = doc;
  const x = left + labelWidth;
  doc.save().lineWidth(0.5).strokeColor('#555').dash(1.5, { space: 1.5 });
  doc
    .moveTo(x + eventRatio * courseBox.width, y - 1)
    .lineTo(x + eventRatio * courseBox.width, y + courseBox.height - 1);
  doc.stroke().undash().lineWidth(0.7).strokeColor('black');
  for (const run of courseRuns(course, { ...courseBox, height: courseBox.height - 3 })) {
    for (const [at, [dx, dy]] of run.entries()) {
      if (at === 0) doc.moveTo(x + dx, y + dy);
      else doc.lineTo(x + dx, y + dy);
    }
    const [only] = run;
    if (run.length === 1 && only !== undefined) doc.lineTo(x + only[0] + 0.7, y + only[1]);
  }
  doc.stroke().restore();
  doc.y = y;
}

/** How a printed sheet looks: made for a black and white printer, readable on a screen and a phone. */

/** Source of page numbers on paper: W3C CSS Paged Media 3, 5 (margin boxes). */
export const pageStyle = `
@page { size: A4; margin: 16mm 14mm 18mm; @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; } }
* { box-sizing: border-box; }
html { background: #fff; color: #000; color-scheme: light; }
body { margin: 0; font: 10.5pt/1.4 system-ui, "Helvetica Neue", Arial, sans-serif; }
main { max-width: 190mm; margin: 0 auto; padding: 6mm 4mm; }
h1 { font-size: 18pt; line-height: 1.2; margin: 0; }
.subtitle { margin: 1mm 0 5mm; padding-bottom: 2mm; border-bottom: 2pt solid #000; }
h2 { font-size: 13pt; margin: 7mm 0 2mm; border-bottom: .75pt solid #000; break-after: avoid; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; break-after: avoid; }
p { margin: 0 0 2mm; overflow-wrap: anywhere; }
ul { margin: 0 0 2mm; padding-left: 5mm; }
.quiet { color: #333; font-size: 9pt; }
.caution { border: 1.5pt solid #000; border-left-width: 6pt; padding: 2mm 3mm; break-inside: avoid; }
dl { display: grid; grid-template-columns: repeat(auto-fill, minmax(78mm, 1fr)); gap: .5mm 6mm; margin: 0 0 3mm; }
dl div { display: grid; grid-template-columns: 34mm 1fr; column-gap: 2mm; border-bottom: .25pt solid #888; padding: .5mm 0; }
dt { color: #333; } dd { margin: 0; font-weight: 600; overflow-wrap: anywhere; }
table { width: 100%; border-collapse: collapse; margin: 0 0 4mm; font-size: 9pt; line-height: 1.3; }
caption { text-align: left; font-weight: 600; padding: 0 0 1mm; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: .8mm 2.5mm .8mm 0; border-bottom: .25pt solid #888; overflow-wrap: anywhere; }
thead th { border-bottom: 1pt solid #000; vertical-align: bottom; }
tbody th { font-weight: 400; }
.number { text-align: right; font-variant-numeric: tabular-nums; overflow-wrap: normal; }
table.window { break-inside: avoid; }
svg { display: block; } svg path { fill: none; stroke: #000; stroke-width: 1; } svg .event { stroke-dasharray: 2 1.5; stroke: #444; }
footer { margin-top: 6mm; border-top: .5pt solid #000; padding-top: 1mm; font-size: 8.5pt; }
@media screen and (max-width: 640px) { main { padding: 3mm; } table { display: block; overflow-x: auto; } dl div { grid-template-columns: 30mm 1fr; } }
@media print { main { max-width: none; padding: 0; } body { font-size: 9.5pt; } table { font-size: 8pt; } }
`;

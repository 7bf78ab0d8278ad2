/** The frame of a page that stands by itself: its head, its style, light and dark, screen and paper. */

const style = `
:root{color-scheme:light dark;--ground:light-dark(#f8f9f7,#1a1f22);--ink:light-dark(#1b2225,#eceae5);--quiet:light-dark(#505a5e,#a9b1b3);
--joint:light-dark(#cdd2cf,#2c3337);--before:light-dark(#3f648a,#7fa6cc);--after:light-dark(#a63d18,#e0703f)}
body{margin:0 auto;max-width:60rem;padding:1rem;background:var(--ground);color:var(--ink);font:1rem/1.45 Seravek,Ubuntu,Calibri,"DejaVu Sans",sans-serif}
h1{font-size:1.5rem;line-height:1.2}h2{font-size:1.1rem;margin:1.6rem 0 .4rem}.quiet{color:var(--quiet);fill:var(--quiet)}
.wide{overflow-x:auto}table{border-collapse:collapse;font-variant-numeric:tabular-nums}th,td{padding:.2rem .8rem .2rem 0;text-align:left;border-bottom:1px solid var(--joint)}
.number{text-align:right}th{font-weight:600;color:var(--quiet)}svg text{font-size:11px;fill:var(--ink)}svg line{stroke:var(--joint)}
.before{fill:var(--before)}.after{fill:var(--after)}ul{padding-left:1.1rem}li{margin:.15rem 0}
@media print{:root{color-scheme:light}body{max-width:none;padding:0;font-size:10pt}section{break-inside:avoid-page}.wide{overflow:visible}svg{max-width:100%}}
`;

/** The whole document. Range: `bodyHtml` is trusted as it is; put text through `escaped`. */
export function pageOf(title: string, bodyHtml: string): string {
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escaped(title)}</title><style>${style}</style></head>
<body><main>
${bodyHtml}
</main></body></html>
`;
}

/** Text for HTML. */
export function escaped(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
}

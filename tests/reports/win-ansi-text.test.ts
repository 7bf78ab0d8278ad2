import { buildHandover, renderHandover } from '@warmbrick/reports';
import { describe, expect, it } from 'vitest';
import { pdfText } from './pdf-text.js';
import { read, sampleInput } from './sample-input.js';

/** The PDF's text with a machine of this name. */
async function titleOf(name: string): Promise<string> {
  const input = sampleInput();
  const document = await buildHandover({ ...input, profile: { ...input.profile, name } }, read);
  const { body } = await renderHandover(document, 'pdf');
  return pdfText(body as Uint8Array).pages[0] ?? '';
}

describe('characters on paper', () => {
  it('are written as they are where the standard fonts have them', async () => {
    // Source: ISO 32000-1, annex D.2: these are WinAnsi characters.
    expect(await titleOf('Gr\u00e4ber Sk\u00e5ne \u00d8st')).toContain('Gr\u00e4ber Sk\u00e5ne \u00d8st');
  });

  it('are written by their nearest letters where they have not', async () => {
    expect(await titleOf('Spycha\u010d \u0141\u00f3d\u017a')).toContain('Spychac L\u00f3dz');
    expect(await titleOf('\u30ed\u30fc\u30c0')).toContain('???');
  });
});

// Text in drawings: escaping (names come from files), estimated widths, numbers as short decimal text.

/** Advance of the mono in em: every glyph alike. Atkinson Hyperlegible Mono, hmtx, 632 of 1000 units in all weights. */
export const MONO_EM = 0.632;

// Atkinson Hyperlegible Next, hmtx in thousandths of an em, from the space (0x20) to the tilde (0x7e).
const SANS_400 =
  '280,286,301,651,592,919,731,160,299,299,485,606,210,362,210,387,648,407,548,576,614,588,598,510,615,595,210,210,553,628,553,480,778,626,613,645,669,569,552,694,694,392,512,631,541,824,693,714,592,724,614,592,558,690,593,856,623,575,607,317,387,344,552,372,243,525,566,485,564,538,314,558,550,252,245,492,262,845,550,548,566,574,349,471,326,540,461,684,481,449,460,344,237,344,555';
const SANS_700 =
  '312,303,390,765,610,969,725,210,335,335,485,595,271,373,272,440,659,440,579,600,624,607,626,537,624,571,272,272,569,612,569,547,781,678,643,658,688,597,566,718,701,424,561,663,552,858,717,746,629,756,650,610,607,686,644,886,685,650,618,340,440,344,582,400,288,552,596,510,596,563,365,593,571,300,259,555,318,882,571,576,596,599,376,508,376,567,530,740,539,521,505,381,254,381,537';
const table = (text: string): readonly number[] => text.split(',').map((value) => Number(value) / 1000);
const SANS: Readonly<Record<400 | 700, readonly number[]>> = { 400: table(SANS_400), 700: table(SANS_700) };

/** Width of `text` in the mono at `size`, in the unit of `size`. Other scripts than Latin are counted as one glyph each. */
export function monoWidth(text: string, size: number): number {
  return [...text].length * MONO_EM * size;
}

/** Width of `text` in the sans at `size`. Exact for ASCII (without kerning); 0.62 em for anything else. */
export function sansWidth(text: string, size: number, weight: 400 | 700 = 400): number {
  let em = 0;
  for (const glyph of text) em += SANS[weight][glyph.charCodeAt(0) - 32] ?? 0.62;
  return em * size;
}

/** `text` cut to `room` in the mono at `size`, with an ellipsis where anything was cut; empty if nothing fits. */
export function fitMono(text: string, size: number, room: number): string {
  const glyphs = [...text];
  const fits = Math.floor(room / (MONO_EM * size) + 1e-6);
  if (glyphs.length <= fits) return text;
  return fits < 2 ? '' : `${glyphs.slice(0, fits - 1).join('')}…`;
}

/** `text` cut to `room` in the sans at `size`, with an ellipsis where anything was cut; empty if nothing fits. */
export function fitSans(text: string, size: number, room: number, weight: 400 | 700 = 400): string {
  if (sansWidth(text, size, weight) <= room) return text;
  const glyphs = [...text];
  while (glyphs.length > 0 && sansWidth(`${glyphs.join('')}…`, size, weight) > room) glyphs.pop();
  return glyphs.length < 2 ? '' : `${glyphs.join('')}…`;
}

// What XML 1.0 does not allow at all (production 2, Char): most control characters, lone surrogates, U+FFFE and U+FFFF.
const NOT_XML =
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what has to be taken out
  /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g;

/** `text` fit for XML content and for attributes in double quotes. Characters that XML does not allow become U+FFFD. */
export function escapeXml(text: string): string {
  return text
    .replace(NOT_XML, '\ufffd')
    .replace(/&/g, '&amp;')
    .replace(/</g, '&lt;')
    .replace(/>/g, '&gt;')
    .replace(/"/g, '&quot;')
    .replace(/'/g, '&#39;')
    .replace(/[\t\n\r]/g, ' ');
}

/** A number with at most two decimals and no trailing zeros; never `-0`, never an exponent for lengths that occur. */
export function num(value: number): string {
  const rounded = Math.round(value * 100) / 100;
  return rounded === 0 ? '0' : String(rounded);
}

/** Metres with two decimals below ten, one above: `9.37 m`. */
export function metres(mm: number): string {
  const m = mm / 1000;
  return `${m < 10 ? m.toFixed(2) : m.toFixed(1)} m`;
}

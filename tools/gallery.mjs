// Puts all golden drawings on one page, to be looked at: node tools/gallery.mjs [OUT.html] (default gallery.html in the
// current folder). The drawings stand alone, so the page needs nothing else; install the two type families to see them as meant.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const folder = new URL('../tests/golden/drawing/', import.meta.url);
const out = process.argv[2] ?? 'gallery.html';
const names = readdirSync(folder)
  .filter((name) => name.endsWith('.svg'))
  .sort();
const font = (family, cut, weight) => {
  const file = new URL(`../node_modules/@fontsource/${cut}/files/${cut}-latin-${weight}-normal.woff2`, import.meta.url);
  const data = readFileSync(fileURLToPath(file)).toString('base64');
  return `@font-face{font-family:"${family}";font-weight:${weight};src:url(data:font/woff2;base64,${data}) format("woff2")}`;
};
const fonts = [
  ...[400, 600, 700].map((w) => font('Atkinson Hyperlegible Next', 'atkinson-hyperlegible-next', w)),
  ...[400, 700].map((w) => font('Atkinson Hyperlegible Mono', 'atkinson-hyperlegible-mono', w)),
].join('\n');
const figures = names.map((name) => {
  // A style element inside an inline drawing would hold for the whole page, so each drawing is shown as a picture of its own.
  const svg = readFileSync(new URL(name, folder), 'utf8').replace('<style>', `<style>${fonts}`);
  const data = Buffer.from(svg).toString('base64');
  return `<figure><figcaption>${name}</figcaption><img alt="${name}" src="data:image/svg+xml;base64,${data}"></figure>`;
});
writeFileSync(
  out,
  `<!doctype html><html lang="en"><meta charset="utf-8"><title>Golden drawings</title><style>body{font:15px system-ui,sans-serif;margin:24px}figure{margin:0 0 32px}figcaption{margin-bottom:6px}img{border:1px solid #999}</style><h1>Golden drawings</h1>${figures.join('\n')}</html>\n`,
);
console.log(`${names.length} drawings in ${out}`);

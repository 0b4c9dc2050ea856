// The record as one page of HTML that holds everything it shows. Every name from a file is escaped.

import { escapeXml, pageStyle } from '../drawing/index.ts';
import { type Block, type BookInput, bookContent, type Run } from './content.ts';

export interface PageOptions {
  /** Where a photo of the journal is found from the page; undefined leaves the photo out and keeps its words. */
  readonly photo?: (file: string) => string | undefined;
}

/** The page, as HTML text. Same input, same bytes. */
export function renderPage(input: BookInput, options: PageOptions = {}): string {
  const title = escapeXml(input.design.name);
  const blocks = bookContent(input);
  const links = blocks.flatMap((block) =>
    block.kind === 'section' && block.id !== 'cautions' ? [`<a href="#${block.id}">${escapeXml(block.title)}</a>`] : [],
  );
  return `<!doctype html>
<html lang="en" data-ground="paper">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title}</title>
<style>${pageStyle()}
${PAGE_CSS}</style>
</head>
<body>
<header><h1>${title}</h1>${input.about === undefined ? '' : `<p>${escapeXml(input.about)}</p>`}</header>
<nav aria-label="Sections">${links.join(' ')}</nav>
<main>
${sections(blocks, options)}
</main>
</body>
</html>
`;
}

function sections(blocks: readonly Block[], options: PageOptions): string {
  let out = '';
  for (const block of blocks) {
    if (block.kind === 'section')
      out += `${out === '' ? '' : '</section>\n'}<section id="${block.id}"><h2>${escapeXml(block.title)}</h2>`;
    else out += html(block, options);
  }
  return out === '' ? '' : `${out}</section>`;
}

const TAGS = { strong: 'strong', code: 'code', small: 'small' } as const;
const runs = (list: readonly Run[]): string =>
  list
    .map(({ text, style }) => {
      if (text === '') return '';
      return style === undefined ? escapeXml(text) : `<${TAGS[style]}>${escapeXml(text)}</${TAGS[style]}>`;
    })
    .join('');

function html(block: Exclude<Block, { kind: 'section' }>, options: PageOptions): string {
  switch (block.kind) {
    case 'heading':
      return `<h3>${escapeXml(block.text)}</h3>`;
    case 'paragraph':
      return `<p>${runs(block.runs)}</p>`;
    case 'list': {
      const tag = block.from === undefined ? 'ul' : 'ol';
      const items = block.items.map(
        (item) =>
          `<li${item.mark === undefined ? '' : ` class="${escapeXml(item.mark)}"`}>${item.lines.map(runs).join('<br>')}</li>`,
      );
      return `<${tag}${block.from === undefined ? '' : ` start="${block.from}"`}>${items.join('')}</${tag}>`;
    }
    case 'table': {
      const kind = (column: number): string => {
        const names = [block.right?.includes(column) ? 'r' : '', block.mono?.includes(column) ? 'm' : ''].filter(
          (name) => name !== '',
        );
        return names.length === 0 ? '' : ` class="${names.join(' ')}"`;
      };
      const head = block.head.map((text, column) => `<th scope="col"${kind(column)}>${escapeXml(text)}</th>`).join('');
      const rows = block.rows.map(
        (row) => `<tr>${row.map((text, column) => `<td${kind(column)}>${escapeXml(text)}</td>`).join('')}</tr>`,
      );
      return `<table><thead><tr>${head}</tr></thead><tbody>${rows.join('')}</tbody></table>`;
    }
    case 'drawing':
      return `<figure id="${block.id}">${block.svg}\n<figcaption>${escapeXml(block.caption)}</figcaption></figure>\n`;
    case 'labels':
      return `<div class="labels">${block.labels
        .map(
          ({ part, type, svg }) =>
            `<figure>${svg}<figcaption>${escapeXml(part)}, ${escapeXml(type)}</figcaption></figure>`,
        )
        .join('')}</div>`;
    case 'photo': {
      const from = options.photo?.(block.file);
      const caption = escapeXml(block.caption === '' ? 'A photo' : block.caption);
      return from === undefined
        ? `<p>${caption}: ${escapeXml(block.file)}</p>`
        : `<figure class="photo"><img src="${escapeXml(from)}" alt="${caption}"><figcaption>${caption}</figcaption></figure>`;
    }
  }
}

const PAGE_CSS = `
body{margin:0;padding:24px;background:var(--ground);color:var(--ink);font:15px/1.5 "Atkinson Hyperlegible Next",system-ui,sans-serif}
h1{font-size:34px;margin:0}h2{font-size:24px;border-bottom:1px solid var(--ink);margin:32px 0 12px}h3{font-size:18px;margin:20px 0 6px}
nav a{color:var(--ink);margin-right:16px}code,td.m{font-family:"Atkinson Hyperlegible Mono",ui-monospace,monospace;font-size:13px}
table{border-collapse:collapse}th,td{text-align:left;padding:4px 16px 4px 0;border-bottom:1px solid var(--hair);font-variant-numeric:tabular-nums}th.r,td.r{text-align:right}
figure{margin:0 0 32px}figure svg{max-width:100%;height:auto}figcaption{color:var(--ink-2)}.labels svg{max-width:none}.labels{display:flex;flex-wrap:wrap;gap:0 24px}.photo img{max-width:100%;max-height:60vh}
li{margin:2px 0}li.error strong{color:var(--fault)}li.warning strong{color:var(--doubt)}small{color:var(--ink-2)}
@media print{nav{display:none}figure,tr,li{break-inside:avoid}body{padding:0;background:#fff}}
`;

export type { Block, BookFinding, BookInput, Run } from './content.ts';
export { bookContent } from './content.ts';
export { type PageOptions, renderPage } from './page.ts';
export { type Paper, renderPdf } from './pdf.ts';

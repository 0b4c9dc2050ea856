export type { PageFinding, PageInput } from './page.ts';
export { renderPage } from './page.ts';

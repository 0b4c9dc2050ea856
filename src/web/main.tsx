// The page's beginning: the drawings' sheet of colours, the project from the server, the frame.

import { render } from 'preact';
import { pageStyle } from '../drawing/index.ts';
import './style.css';
import { Frame } from './frame/frame.tsx';
import { openProject } from './state/session.ts';
import { ground, notice } from './state/store.ts';

const sheet = new CSSStyleSheet();
sheet.replaceSync(pageStyle());
document.adoptedStyleSheets = [sheet, ...document.adoptedStyleSheets];

// What is printed is on paper.
addEventListener('beforeprint', () => {
  document.documentElement.dataset.ground = 'paper';
});
addEventListener('afterprint', () => {
  document.documentElement.dataset.ground = ground.value;
});

const root = document.getElementById('app');
if (root !== null) render(<Frame />, root);
openProject().catch((error: unknown) => {
  notice.value = `The project could not be read: ${error instanceof Error ? error.message : String(error)}`;
});

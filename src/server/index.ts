export { appendJournal } from './journal-file.ts';
export { LARGEST_TEXT, pathInside, readTexts, writeWhole } from './project-files.ts';
export type { Served, ServeOptions, Template } from './serve.ts';
export { serveWorkbench } from './serve.ts';
export { textHash } from './watch.ts';

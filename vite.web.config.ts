// Builds the workbench's page into dist/web: one page, its worker files, the two type families; nothing from elsewhere.

import { defineConfig } from 'vite';

export default defineConfig({
  root: 'src/web',
  base: '/',
  logLevel: 'warn',
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  worker: { format: 'es' },
  build: {
    outDir: '../../dist/web',
    emptyOutDir: true,
    rolldownOptions: { checks: { pluginTimings: false } },
    target: 'es2022',
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 2000,
    modulePreload: { polyfill: false },
  },
});

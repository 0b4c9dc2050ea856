// Builds what ships: the command line (dist/cli.mjs), the generator of data and pages (dist/gen.mjs) and the tools that try processor
// models (dist/processor-tools.mjs), for Node.

import { defineConfig } from 'vite';

export default defineConfig({
  logLevel: 'warn',
  build: {
    outDir: 'dist',
    emptyOutDir: false,
    target: 'node20',
    minify: false,
    ssr: true,
    rolldownOptions: {
      // Where its time goes is no business of somebody who runs a verb in a fresh clone.
      checks: { pluginTimings: false },
      input: {
        cli: 'src/cli/main.ts',
        gen: 'tools/gen-entry.ts',
        'processor-tools': 'tools/processor-tools-entry.ts',
      },
      output: { entryFileNames: '[name].mjs', chunkFileNames: 'chunk-[hash].mjs', format: 'es' },
    },
  },
  ssr: { noExternal: ['yaml', 'typebox', 'commander'], external: ['fastify', 'ws'] },
});

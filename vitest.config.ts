import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['src/**/*.test.ts', 'src/**/*.test.tsx', 'tests/**/*.test.ts'],
    testTimeout: 240_000,
    hookTimeout: 240_000,
    maxWorkers: 2,
    expect: { poll: { timeout: 60_000, interval: 100 } },
  },
});

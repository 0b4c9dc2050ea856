// A bar on a terminal for long work; silence elsewhere.

/** `show` takes the share done, 0 to 1. */
export function progressBar(
  output: { err(text: string): void },
  visible: boolean,
): { show(share: number): void; done(): void } {
  let last = -1;
  return {
    show(share) {
      const percent = Math.floor(share * 100);
      if (!visible || percent === last) return;
      last = percent;
      const width = 40;
      const filled = Math.round(share * width);
      output.err(`\r${'='.repeat(filled)}${'-'.repeat(width - filled)} ${String(percent).padStart(3)} %`);
    },
    done() {
      if (visible && last >= 0) output.err(`\r${' '.repeat(50)}\r`);
    },
  };
}

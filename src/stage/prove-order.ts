// An order of jobs in which each comes after those it follows, and what has to be set up changes seldom.

/** Up to this many jobs the order is the best there is; beyond it is found step by step. */
const EXACT = 14;

/**
 * An order of jobs 0 to n - 1. `setUp` names what each needs set up, `after` the jobs that must come before it (no cycles).
 * Among orders with equally few changes the one that takes earlier jobs first.
 */
export function orderWithFewSetUps(setUp: readonly string[], after: readonly (readonly number[])[]): number[] {
  const exact = setUp.length <= EXACT;
  const order: number[] = [];
  const done = new Set<number>();
  const ready = (k: number): boolean => !done.has(k) && after[k]!.every((other) => done.has(other));
  /** Does all that can be done with one thing set up; the jobs done. */
  const run = (what: string): number[] => {
    const ran: number[] = [];
    for (;;) {
      const next = setUp.findIndex((name, k) => name === what && ready(k));
      if (next < 0) return ran;
      done.add(next);
      ran.push(next);
    }
  };
  // Doing all that can be done before a change is never worse, so an order is a sequence of set-ups: searched breadth first.
  const names = [...new Set(setUp)];
  if (exact) {
    let front: { readonly done: ReadonlySet<number>; readonly order: readonly number[] }[] = [
      { done: new Set(), order: [] },
    ];
    const seen = new Set<string>();
    for (;;) {
      const next: typeof front = [];
      for (const state of front) {
        if (state.done.size === setUp.length) return [...state.order];
        for (const what of names) {
          done.clear();
          for (const k of state.done) done.add(k);
          const ran = run(what);
          const key = [...done].sort((a, b) => a - b).join();
          if (ran.length === 0 || seen.has(key)) continue;
          seen.add(key);
          next.push({ done: new Set(done), order: [...state.order, ...ran] });
        }
      }
      if (next.length === 0) return [...front[0]!.order]; // a cycle: what can be ordered
      front = next;
    }
  }
  while (order.length < setUp.length) {
    // The set-up that finishes all its jobs, else the one with the most to do; ties to the first job that is ready.
    let best: { what: string; ran: number[]; finishes: boolean } | undefined;
    for (const what of names) {
      const before = new Set(done);
      const ran = run(what);
      done.clear();
      for (const k of before) done.add(k);
      if (ran.length === 0) continue;
      const finishes = setUp.every((name, k) => name !== what || before.has(k) || ran.includes(k));
      if (
        best === undefined ||
        (finishes && !best.finishes) ||
        (finishes === best.finishes && ran.length > best.ran.length)
      )
        best = { what, ran, finishes };
    }
    if (best === undefined) break;
    order.push(...run(best.what));
  }
  return order;
}

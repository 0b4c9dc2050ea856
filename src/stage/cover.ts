// Covering with few sets: greedy, then exchanges that save a set, then leaving out what has become needless. Used for the
// meter plan. Not exact; tests compare it with an exact solver on small cases.

/**
 * Indices of sets that together cover every element that any set covers, in the order chosen. `elements` is the number of
 * elements (0 to elements - 1). Ties go to the earlier set, so the result is the same every time.
 */
export function coverWithFew(sets: readonly (readonly number[])[], elements: number): number[] {
  const chosen = greedy(sets, elements);
  return improve(sets, elements, chosen);
}

function greedy(sets: readonly (readonly number[])[], elements: number): number[] {
  const covered = new Uint8Array(elements);
  const gain = sets.map((set) => set.length);
  const buckets: number[][] = [];
  sets.forEach((set, i) => {
    let bucket = buckets[set.length];
    if (bucket === undefined) {
      bucket = [];
      buckets[set.length] = bucket;
    }
    bucket.push(i);
  });
  const chosen: number[] = [];
  // Gains only fall, so a set whose gain is out of date moves to a lower bucket when it is met.
  for (let size = buckets.length - 1; size > 0; size--) {
    const bucket = buckets[size] ?? [];
    for (let k = 0; k < bucket.length; k++) {
      const i = bucket[k]!;
      let now = 0;
      for (const element of sets[i]!) if (covered[element] === 0) now++;
      gain[i] = now;
      if (now === size) {
        chosen.push(i);
        for (const element of sets[i]!) covered[element] = 1;
      } else if (now > 0) {
        let lower = buckets[now];
        if (lower === undefined) {
          lower = [];
          buckets[now] = lower;
        }
        lower.push(i);
      }
    }
  }
  return chosen;
}

function improve(sets: readonly (readonly number[])[], elements: number, start: readonly number[]): number[] {
  const times = new Int32Array(elements);
  let chosen = [...start];
  for (const i of chosen) for (const element of sets[i]!) times[element]!++;
  const isNeedless = (i: number): boolean => sets[i]!.every((element) => times[element]! > 1);
  const drop = (): void => {
    for (let k = chosen.length - 1; k >= 0; k--) {
      const i = chosen[k]!;
      if (!isNeedless(i)) continue;
      for (const element of sets[i]!) times[element]!--;
      chosen.splice(k, 1);
    }
  };
  drop();
  const owners = new Map<number, number[]>();
  const rebuild = (): void => {
    owners.clear();
    for (const i of chosen)
      for (const element of sets[i]!) {
        const list = owners.get(element);
        if (list === undefined) owners.set(element, [i]);
        else list.push(i);
      }
  };
  rebuild();
  for (let pass = 0; pass < 20; pass++) {
    let saved = false;
    const inPlan = new Set(chosen);
    for (let c = 0; c < sets.length; c++) {
      if (inPlan.has(c)) continue;
      // With c in the plan, which of the sets it overlaps can go?
      const candidates = new Set<number>();
      for (const element of sets[c]!) for (const owner of owners.get(element) ?? []) candidates.add(owner);
      if (candidates.size < 2) continue;
      for (const element of sets[c]!) times[element]!++;
      const gone: number[] = [];
      for (const i of candidates) {
        if (!isNeedless(i)) continue;
        for (const element of sets[i]!) times[element]!--;
        gone.push(i);
      }
      if (gone.length >= 2) {
        chosen = [...chosen.filter((i) => !gone.includes(i)), c];
        for (const i of gone) inPlan.delete(i);
        inPlan.add(c);
        rebuild();
        saved = true;
      } else {
        for (const i of gone) for (const element of sets[i]!) times[element]!++;
        for (const element of sets[c]!) times[element]!--;
      }
    }
    drop();
    if (!saved) break;
  }
  return chosen;
}

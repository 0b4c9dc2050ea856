// Names as people write them: compared without regard to case, sorted with numbers by value, misspellings recognised.

/** The form in which names are compared. */
export function foldName(name: string): string {
  return name.toLowerCase();
}

/** Compares names so that A2 comes before A10; ties by code unit. */
export function compareNatural(a: string, b: string): number {
  let i = 0;
  let j = 0;
  while (i < a.length && j < b.length) {
    const x = a.charCodeAt(i);
    const y = b.charCodeAt(j);
    if (isDigit(x) && isDigit(y)) {
      let m = i;
      let n = j;
      while (m < a.length && isDigit(a.charCodeAt(m))) m++;
      while (n < b.length && isDigit(b.charCodeAt(n))) n++;
      const d = Number(a.slice(i, m)) - Number(b.slice(j, n));
      if (d !== 0) return d;
      i = m;
      j = n;
    } else if (x !== y) {
      return x - y;
    } else {
      i++;
      j++;
    }
  }
  const rest = a.length - i - (b.length - j);
  return rest !== 0 ? rest : a < b ? -1 : a > b ? 1 : 0;
}

function isDigit(code: number): boolean {
  return code >= 48 && code <= 57;
}

/** The number of single-letter insertions, deletions, substitutions and neighbour exchanges between two words, at most `limit` + 1. */
export function editDistance(a: string, b: string, limit = 3): number {
  if (Math.abs(a.length - b.length) > limit) return limit + 1;
  let before: number[] = [];
  let previous = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i++) {
    const current = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let cost = Math.min(previous[j]! + 1, current[j - 1]! + 1, previous[j - 1]! + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) cost = Math.min(cost, before[j - 2]! + 1);
      current.push(cost);
    }
    before = previous;
    previous = current;
  }
  return Math.min(previous[b.length]!, limit + 1);
}

/** The known name that `word` was probably meant to be, or undefined. A leading slash or a difference of case counts little. */
export function nearestName(word: string, known: Iterable<string>): string | undefined {
  const plain = (s: string): string => foldName(s).replace(/^[/~#!]|[_\s-]/g, '');
  const wanted = plain(word).slice(0, 64);
  let best: string | undefined;
  let bestCost = Math.min(3, Math.max(1, Math.floor(wanted.length / 3))) + 1;
  for (const name of known) {
    const cost = editDistance(wanted, plain(name).slice(0, 64));
    if (cost < bestCost) {
      best = name;
      bestCost = cost;
    }
  }
  return best;
}

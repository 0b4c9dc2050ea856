// Small knowledge of names: which lead of a polar part is the positive one.

/** 1 for a name that means plus or anode, -1 for minus or cathode, 0 for neither. */
export function pinRank(name: string): -1 | 0 | 1 {
  if (/^(?:\+|p|pos|plus|positive|a|anode)$/i.test(name)) return 1;
  if (/^(?:-|−|n|neg|minus|negative|k|c|cathode)$/i.test(name)) return -1;
  return 0;
}

// Short content identifiers: not for secrecy, only so that the same content bears the same id everywhere.

/** A 53-bit hash of `text` (two mixed 32-bit multiplicative lanes), as an integer. */
export function hashText(text: string): number {
  let h1 = 0xdeadbeef;
  let h2 = 0x41c6ce57;
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i);
    h1 = Math.imul(h1 ^ c, 2654435761);
    h2 = Math.imul(h2 ^ c, 1597334677);
  }
  h1 = Math.imul(h1 ^ (h1 >>> 16), 2246822507) ^ Math.imul(h2 ^ (h2 >>> 13), 3266489909);
  h2 = Math.imul(h2 ^ (h2 >>> 16), 2246822507) ^ Math.imul(h1 ^ (h1 >>> 13), 3266489909);
  return 4294967296 * (2097151 & h2) + (h1 >>> 0);
}

const DIGITS = '0123456789abcdefghjkmnpqrstvwxyz';

/** An id of `length` characters (at most 10) from 0-9 and letters without i, l, o, u. */
export function contentId(text: string, length = 8): string {
  let value = hashText(text);
  let id = '';
  for (let i = 0; i < length; i++) {
    id += DIGITS[value % 32];
    value = Math.floor(value / 32);
  }
  return id;
}

// Formulas of a part as small functions over levels 0 and 1, made once for a machine. Only numbers get into their text.

import type { Circuit } from '../../sim/index.ts';

type FormulaPart = Extract<Circuit['parts'][number], { kind: 'formulas' }>['formulas'];
type Expr = FormulaPart['outputs'][number]['value'];

/** What a part drives from inputs `i`, state `s` from `b`: into `o`, 0 nothing, 1 high, 2 low. */
export type DriveCode = (i: Uint8Array, s: Int32Array, b: number, o: Uint8Array) => void;
/** The state after inputs went from `p` to `i`; true when it changed. */
export type StepCode = (p: Uint8Array, i: Uint8Array, s: Int32Array, b: number) => boolean;

function text(expr: Expr, input: string, state: (k: number) => string): string {
  switch (expr.op) {
    case 'constant':
      return String(expr.value);
    case 'input':
      return `${input}[${expr.index}]`;
    case 'state':
      return state(expr.index);
    case 'not':
      return `(1^${text(expr.term, input, state)})`;
    default: {
      const sign = expr.op === 'and' ? '&' : expr.op === 'or' ? '|' : '^';
      return expr.terms.length === 0
        ? expr.op === 'and'
          ? '1'
          : '0'
        : `(${expr.terms.map((term) => text(term, input, state)).join(sign)})`;
    }
  }
}

export function driveCode(part: FormulaPart): DriveCode {
  const state = (k: number): string => `s[b+${k}]`;
  const lines = part.outputs.map((output, k) => {
    const value = text(output.value, 'i', state);
    const driven = output.openDrain ? `(${value}?0:2)` : `(${value}?1:2)`;
    return `o[${k}]=${output.enable === undefined ? driven : `(${text(output.enable, 'i', state)}?${driven}:0)`};`;
  });
  return new Function('i', 's', 'b', 'o', lines.join('\n')) as DriveCode;
}

/** As plainPart of src/parts and the plain kernel, for known levels: edges first, then latches and asynchronous inputs until they rest. */
export function stepCode(part: FormulaPart): StepCode | undefined {
  const count = part.states.length;
  if (count === 0) return undefined;
  const each = (make: (k: number) => string): string => Array.from({ length: count }, (_, k) => make(k)).join('');
  const old = (k: number): string => `s[b+${k}]`;
  const now = (k: number): string => `n${k}`;
  const lines: string[] = [each((k) => `let n${k}=s[b+${k}];`)];
  for (const entry of [...part.clocked].reverse()) {
    const was = text(entry.of, 'p', old);
    const is = text(entry.of, 'i', old);
    const edge = entry.edge === 'rise' ? `!${was}&&${is}` : `${was}&&!${is}`;
    const when = entry.when === undefined ? '' : `&&${text(entry.when, 'p', old)}`;
    lines.push(`if(${edge}${when}){${entry.set.map((set) => `n${set.state}=${text(set.value, 'p', old)};`).join('')}}`);
  }
  if (part.latched.length + part.asynchronous.length > 0) {
    const body: string[] = [each((k) => `let m${k}=n${k};`)];
    for (const entry of [...part.latched].reverse())
      body.push(
        `if(${text(entry.while, 'i', now)}){${entry.set.map((set) => `m${set.state}=${text(set.value, 'i', now)};`).join('')}}`,
      );
    for (const entry of [...part.asynchronous].reverse())
      body.push(
        `if(${text(entry.when, 'i', now)}){${entry.set.map((set) => `m${set.state}=${text(set.value, 'i', now)};`).join('')}}`,
      );
    const same = Array.from({ length: count }, (_, k) => `m${k}===n${k}`).join('&&');
    lines.push(`for(let t=0;t<=${count};t++){${body.join('')}if(${same})break;${each((k) => `n${k}=m${k};`)}}`);
  }
  lines.push(`const c=${Array.from({ length: count }, (_, k) => `s[b+${k}]!==n${k}`).join('||')};`);
  lines.push(
    each((k) => `s[b+${k}]=n${k};`),
    'return c;',
  );
  return new Function('p', 'i', 's', 'b', lines.join('\n')) as StepCode;
}

// Heights and addresses of the staff: one from the other and back, nothing squeezed without a break, nothing too small to read.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { type AddressBlock, addressBlocks, addressMapDrawing, addressScale } from './index.ts';

const block = (from: number, to: number, state: AddressBlock['state']): AddressBlock => ({
  from,
  to,
  state,
  answers: [],
});

test('halves of a space are drawn to scale, with round addresses labelled', () => {
  const scale = addressScale([block(0, 0x7fff, 'mapped'), block(0x8000, 0xffff, 'mapped')], 640);
  expect(scale.height).toBe(640);
  expect([scale.y(0), scale.y(0x8000), scale.y(0x10000)]).toEqual([640, 320, 0]);
  expect(scale.blocks.some((one) => one.isCut)).toBe(false);
  expect(scale.ticks.filter((tick) => tick.weight === 'round').map((tick) => tick.address % 0x1000)).not.toContain(1);
});

test('a small region in a large gap is large enough to read, and the staff is broken beside the gap', () => {
  const scale = addressScale([block(0, 0xf, 'gap'), block(0x10, 0x17, 'mapped'), block(0x18, 0xffff, 'gap')], 600);
  const [, mapped, gap] = scale.blocks;
  expect(mapped!.bottom - mapped!.top).toBeGreaterThanOrEqual(24);
  expect(gap!.isCut || scale.blocks.every((one) => one.bottom - one.top >= 17)).toBe(true);
});

test('every address lies in its block, and a height leads back to an address of the same block', () => {
  fc.assert(
    fc.property(
      fc.uniqueArray(fc.integer({ min: 1, max: 65535 }), { maxLength: 12 }),
      fc.array(fc.constantFrom<AddressBlock['state'][]>('mapped', 'gap', 'mirror', 'double'), {
        minLength: 13,
        maxLength: 13,
      }),
      fc.integer({ min: 100, max: 1200 }),
      (cuts, states, height) => {
        const edges = [0, ...[...cuts].sort((a, b) => a - b), 65536];
        const blocks = edges.slice(0, -1).map((from, k) => block(from, edges[k + 1]! - 1, states[k]!));
        const scale = addressScale(blocks, height);
        expect(scale.height).toBeGreaterThanOrEqual(height - 1e-6);
        let last = Number.POSITIVE_INFINITY;
        for (const one of scale.blocks) {
          expect(one.bottom - one.top).toBeGreaterThan(0);
          expect(one.bottom).toBeLessThanOrEqual(last + 1e-6);
          last = one.top;
          for (const address of [one.from, one.to]) {
            const at = (scale.y(address) + scale.y(address + 1)) / 2;
            const back = scale.addressAt(at);
            expect(back >= one.from && back <= one.to).toBe(true);
          }
        }
      },
    ),
    { seed: 20, numRuns: 200 },
  );
});

test('what repeats after everything mapped is one stretch, and the drawing names who answers', () => {
  const space = {
    name: 'ports' as const,
    size: 65536,
    period: 256,
    mayMirror: [],
    isCut: false,
    segments: Array.from({ length: 256 }, (_, k) => [
      {
        from: k * 256,
        to: k * 256 + 7,
        state: k === 0 ? ('mapped' as const) : ('mirror' as const),
        answers: [
          {
            part: 'UART',
            net: '/UART',
            when: undefined,
            is: k === 0 ? ('mapped' as const) : ('mirror' as const),
            access: undefined,
          },
        ],
      },
      { from: k * 256 + 8, to: k * 256 + 255, state: 'gap' as const, answers: [] },
    ]).flat(),
  };
  const blocks = addressBlocks(space);
  expect(blocks.map(({ from, to, state }) => [from, to, state])).toEqual([
    [0, 7, 'mapped'],
    [8, 255, 'gap'],
    [256, 65535, 'again'],
  ]);
  const svg = addressMapDrawing({ space, title: 'Ports', ground: 'paper' });
  expect(svg).toContain('>UART<');
  expect(svg).toContain('nobody');
});

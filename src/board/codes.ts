// The codes of what this engine finds, each with one sentence. A page of docs/findings tells more.

/** Code to sentence. */
export const BOARD_CODES: Readonly<Record<string, string>> = {
  'board/boards-overlap': 'Two boards are said to lie in the same place.',
  'board/fixed-place-impossible': 'A part cannot stand where boards.yaml fixes it.',
  'board/joined-apart': 'Two pins of different nets are joined on the boards.',
  'board/layout-damaged': 'An entry of layout.json is not sound.',
  'board/layout-format': 'layout.json is of a format that this version does not know.',
  'board/layout-not-json': 'layout.json is not JSON.',
  'board/layout-out-of-date': 'The layout has no sound place for a part of the design.',
  'board/layout-too-large': 'layout.json is larger than any layout.',
  'board/move-impossible': 'A part cannot be moved there.',
  'board/no-free-hole': 'A net cannot be wired because its strips are full.',
  'board/no-probe-hole': 'No hole can be kept for a probe.',
  'board/no-room': 'There is no room for a part.',
  'board/no-such-hole': 'A hole is named that these boards do not have.',
  'board/not-a-hole': 'A text in boards.yaml is not the name of a hole.',
  'board/not-joined': 'Two pins of one net are not joined on the boards.',
  'board/part-not-in-netlist': 'The layout holds a part that the machine does not have at that stage.',
  'board/pin-not-placed': 'A pin of the machine stands in no hole.',
  'board/too-many-boards': 'More boards are asked for than can be numbered sensibly.',
  'board/two-in-one-hole': 'Two leads stand in one hole.',
  'board/unknown-kind': 'boards.yaml names a kind of board that is not known.',
  'board/unknown-net': 'boards.yaml names a net that the machine does not have.',
  'board/unknown-part': 'boards.yaml fixes a part that the machine does not have.',
};

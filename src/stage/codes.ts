// Every code of this engine, with one line of what it means. The pages in docs/findings say more; a test keeps them in step.

export const STAGE_CODES: Readonly<Record<string, string>> = {
  'stage/journal-cut-short': 'A line of the journal ends in the middle of a record.',
  'stage/journal-damaged': 'Something in the journal is no whole record; it is kept aside and the rest is used.',
  'stage/journal-newer': 'A record was written by a later version of the program.',
  'stage/journal-line-too-long': 'A line of the journal is longer than any record.',
  'stage/journal-foreign-record': 'A record in the journal belongs to another machine or build.',
  'stage/journal-repeated': 'A record stands in the journal more than once; it counts once.',
  'stage/journal-other-machine': 'The journal belongs to another machine or build and is refused.',
  'stage/journal-no-head': 'The record that says whose journal it is isn’t there.',
  'stage/built-contradicts': 'The journal states something that can’t be so, such as two things in one hole.',
  'stage/no-such-hole': 'A part or wire of the layout goes to a hole that the boards don’t have.',
  'stage/unknown-step': 'A step was named that isn’t in the plan.',
  'stage/not-done': 'A step was called wrong that isn’t marked done.',
  'stage/already-done': 'A step was named that is done already.',
  'stage/done-early': 'A step was marked done before a step it needs.',
  'stage/nothing-to-undo': 'There is no act to take back.',
  'stage/touch-value-unknown': 'A resistor has no value that can be read, so the meter plan leaves it out.',
  'stage/text-too-long': 'A note is longer than the journal takes, and was cut.',
};

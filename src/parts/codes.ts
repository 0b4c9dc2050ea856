// The codes of findings about part records, each with its meaning in a line; docs/findings has a page for each.

/** Codes of this folder and what each means. */
export const PARTS_CODES: Readonly<Record<string, string>> = {
  'parts/arc-end': 'A delay or set-up time runs from or to something that is no pin, range or group.',
  'parts/family-name': 'A type of several logic families is not written with an x, or has no families.',
  'parts/formula': 'A formula of the behaviour cannot be read.',
  'parts/formula-pin':
    'A formula looks at a pin that decides nothing, or drives one that cannot be driven, or drives one twice.',
  'parts/freedom': 'Pins that may be exchanged are not alike.',
  'parts/joined': 'Pins that are said to be one conductor are not there, stand twice, or are alone.',
  'parts/no-source': 'The record does not say where its pin table was read.',
  'parts/no-supply': 'A chip has no supply pin or no ground pin.',
  'parts/package': 'The package contradicts itself.',
  'parts/pin-name': "A pin's name cannot be written in a formula or a list.",
  'parts/pin-number': 'Pin numbers do not fit the package: one is missing, stands twice, or is not there.',
  'parts/range-order': 'A least figure is above the greatest, or the typical one outside of both.',
  'parts/repeated-name': 'Two pins bear one name.',
  'parts/repeated-type': 'A type is described twice.',
  'parts/second-count': 'The second pin table has another number of pins than the record.',
  'parts/second-form': 'The second pin table cannot be read.',
  'parts/second-kind': 'A pin has another kind in the second table.',
  'parts/second-name': 'A pin has another name in the second table.',
  'parts/size': 'The size of a memory, or the length of a vector, makes no sense.',
  'parts/state-name': 'A state variable bears the name of a pin, or stands twice.',
  'parts/tie': 'A required tie says something that cannot be made.',
  'parts/undriven-output': 'The behaviour drives some outputs and forgets one.',
  'parts/unit': 'The units of a part are not alike, share a pin under two letters, or bear one name.',
  'parts/unknown-class': 'A pin is of a class for which neither the record nor its family has figures.',
  'parts/unknown-family': 'There is no file for a logic family that is named.',
  'parts/unknown-pin': 'Something names a pin that the part does not have.',
  'parts/unknown-source': 'A figure cites a source that is not listed.',
  'parts/unknown-state': 'A behaviour sets a state variable that it does not have.',
};

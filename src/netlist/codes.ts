// The codes of findings of elaboration, each with its meaning in a line; docs/findings has a page for each.

/** Codes of this folder and what each means. */
export const NETLIST_CODES: Readonly<Record<string, string>> = {
  'netlist/bus-style-unknown': 'The bus of this processor is not derived yet.',
  'netlist/decoder-does-not-fit': 'A fixed decoder cannot make the selects asked of it.',
  'netlist/device-inputs-short': 'A programmable device has too few pins for its inputs.',
  'netlist/device-outputs-short': 'A programmable device has no output left.',
  'netlist/logic-place-unfit': 'A function cannot be made in the place that is named for it.',
  'netlist/member-not-mapped': 'A part is on a bus and has no address.',
  'netlist/no-bus-role': 'A member of a bus has no place on one by its record.',
  'netlist/no-decoder': 'Nothing makes a select that is needed.',
  'netlist/no-port-space': 'A part is at a port of a processor that has none.',
  'netlist/no-unit-free': 'No gate or device pin is free for a function.',
  'netlist/no-wait-derived': 'Wait states are asked for where none can be derived.',
  'netlist/not-a-processor': 'A bus is to be derived from a part that is no processor.',
  'netlist/pin-in-two-nets': 'Two lines put one pin in different nets.',
  'netlist/select-with-strobes': 'A select that should precede its strobes comes with them.',
  'netlist/unknown-colour': 'Wires of this colour are neither usual nor drawn.',
  'netlist/unknown-net': 'There is no net of this name.',
  'netlist/unknown-pin': 'A part has no pin of this name.',
  'netlist/unknown-type': 'The library has no part of this type.',
};

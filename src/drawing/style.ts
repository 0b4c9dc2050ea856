// The style sheet of every drawing, made from tokens.ts. A page takes pageStyle() once and its drawings follow the ground
// of the page (`data-ground` on any ancestor); an exported drawing carries standaloneStyle() inside itself.
// Widths in px are widths on screen: they don't grow with the drawing. Weight is reality: thin is planned, solid is built.

import { COLOURS, FONTS, type Ground, WIRE_CODES } from './tokens.ts';

function colours(ground: Ground): string {
  const { scheme, plain, wire } = COLOURS[ground];
  const names = Object.entries(plain).map(([name, value]) => `--${name}:${value}`);
  const wires = WIRE_CODES.map((code) => {
    const [core, casing, planned] = wire[code];
    return `--w-${code}:${core};--k-${code}:${casing};--p-${code}:${planned}`;
  });
  return `color-scheme:${scheme};${names.join(';')};${wires.join(';')};--sans:${FONTS.sans};--mono:${FONTS.mono}`;
}

const WIRE_CLASSES = WIRE_CODES.map(
  (code) => `.c-${code}{--c:var(--w-${code});--k:var(--k-${code});--p:var(--p-${code})}`,
).join('');

/** The rules for everything that drawings contain; colours by variable. */
export const DRAWING_CSS = `.pb{font-family:var(--mono);color:var(--ink)}
.pb text{fill:var(--ink);font-family:var(--mono)}
.pb .s{font-family:var(--sans)}.pb .b{font-weight:700}.pb .q{fill:var(--ink-2)}
.pb .sheet{fill:var(--sheet)}.pb .table{fill:var(--ground)}.pb .inkfill{fill:var(--ink)}
.pb .rule{stroke:var(--ink);fill:none;stroke-width:1}.pb .rule2{stroke:var(--ink);fill:none;stroke-width:2.4}.pb .hair{stroke:var(--hair);fill:none;stroke-width:1}
.pb .out{paint-order:stroke;stroke:var(--ground);stroke-width:5px;stroke-linejoin:round}
.pb .hl{fill:var(--mark)}.pb .onmark{paint-order:stroke;stroke:var(--mark);stroke-width:5px;stroke-linejoin:round}
.pb-board{fill:var(--sheet);stroke:var(--line);stroke-width:1}
.pb-rail{fill:none;stroke-width:1}.pb-rail.p{stroke:var(--w-RD);opacity:.55}.pb-rail.m{stroke:var(--ink);opacity:.45}
.pb-strip{fill:var(--strip)}.pb-strip.on{fill:var(--halo-c);stroke:var(--halo-e);stroke-width:1}
.pb-hole{stroke:var(--hole);stroke-linecap:round;fill:none}.pb-hole.in{stroke:var(--sheet)}
.pb-coord text{fill:var(--ink-2);text-anchor:middle;paint-order:stroke;stroke:var(--ground);stroke-width:3px;stroke-linejoin:round}
.pb .no{font-family:var(--sans);font-weight:700;text-anchor:middle}
.pb-part .body,.pb-part .sign{fill:var(--sheet);stroke:var(--ink);stroke-width:1.1;stroke-linejoin:round}.pb-part .sign{fill:none}.pb-part .solid{fill:var(--ink)}
.pb-part .legs{stroke:var(--ink);fill:none}.pb-part .dots{stroke:var(--ink);stroke-linecap:round;fill:none}
.pb-part.built .sign{stroke-width:1.5}.pb-part.built .body{stroke-width:1.6}.pb-part.built.chip .body{stroke-width:2}
.pb-part.planned .body,.pb-part.planned .sign{stroke-width:.9}.pb-part.planned .legs{stroke-width:.9px!important}
.pb-part.out .body{stroke-dasharray:5 3.6;stroke-width:1.4}
.pb-part.later .body{fill:none;stroke:var(--line);stroke-width:1;stroke-dasharray:1 3;stroke-linecap:round}.pb-part.later .dots{stroke:var(--line);opacity:.6}.pb-part.later .sign,.pb-part.later .legs{display:none}.pb-part.later .solid{display:none}
.pb-part .ref{font-family:var(--sans);font-weight:700}.pb-part .type{font-family:var(--sans);font-weight:400;fill:var(--ink-2)}
.pb-part.planned .ref,.pb-part.later .ref,.pb-part.out .ref{font-weight:400}.pb-part.later .ref{fill:var(--ink-2);paint-order:stroke;stroke:var(--sheet);stroke-width:3px;stroke-linejoin:round}
.pb-part.sel .body{fill:var(--mark-2)}.pb-part.sel .type{fill:var(--ink)}
.pb-part .val{font-family:var(--sans);fill:var(--ink-2)}
.pb-pins .dim{fill:var(--ink-2)}.pb-pins .on{font-weight:700;paint-order:stroke;stroke:var(--mark);stroke-width:4.4px;stroke-linejoin:round}
.pb-pinon{fill:var(--mark);stroke:var(--ink);stroke-width:1.8}
.pb-nets text,.pb-over text{paint-order:stroke;stroke:var(--sheet);stroke-width:3px;stroke-linejoin:round}
.pb-nets text{fill:var(--ink-2)}.pb-nets .on,.pb-over .on{fill:var(--ink);font-weight:700;stroke:var(--mark);stroke-width:5px}
.pb-over text{fill:var(--ink-2);font-family:var(--sans)}
.pb-wire path{fill:none;stroke-linecap:round;stroke-linejoin:round}
.pb-wire .gap{stroke:var(--sheet)}.pb-wire .case{stroke:var(--k)}.pb-wire .core{stroke:var(--c)}
.pb-wire .end{fill:var(--c);stroke:var(--ink);stroke-width:1}
.pb-wire.planned .core{stroke:var(--p)}.pb-wire.planned .end{fill:var(--sheet);stroke:var(--p);stroke-width:1.2}
.pb-wire.out .core,.pb-wire.out .case{stroke-dasharray:5 3.6;stroke-linecap:butt}.pb-wire.out .end{fill:var(--sheet);stroke-dasharray:2 1.5}
.pb-dimmed{opacity:.42}
.pb-wire .halo{stroke:var(--halo-c)}.pb-wire .edge{stroke:var(--halo-e)}
.pb-wire.on.built .case{stroke:var(--ink)}
.pb-wire.hand .core{stroke:var(--c)}.pb-wire.hand .case{stroke:var(--ink)}.pb-wire.hand .end{fill:var(--c);stroke:var(--ink);stroke-width:2}
.pb-wire.faulty .halo{stroke:var(--fault-wash)}.pb-wire.faulty .edge{stroke:var(--fault)}.pb-wire.faulty .case{stroke:var(--fault)}
.pb-code rect{fill:var(--mark);stroke:var(--ink);stroke-width:1}.pb-code text{font-weight:700;text-anchor:middle}
.pb-band{stroke:var(--c);fill:none;stroke-linecap:round;stroke-linejoin:round}
.pb-band.thin{stroke:var(--p)}
.pb-detail rect{fill:none;stroke:var(--ink);stroke-width:1;stroke-dasharray:9 3 2 3}.pb-detail circle{fill:var(--ink)}.pb-detail text{fill:var(--ground);font-family:var(--sans);font-weight:700;text-anchor:middle}
.pb-fault{stroke:var(--fault);fill:none;stroke-width:2.6;stroke-linecap:round}
.pb-probe{stroke:var(--ink);fill:none;stroke-width:2}.pb-probe .tip{fill:var(--ink)}
.pb-gut rect{fill:var(--ground)}.pb-gut path{stroke:var(--hair);fill:none}.pb-gut text{fill:var(--ink-2);text-anchor:middle}.pb-gut .no{fill:var(--ink)}.pb-gut .on{font-weight:700;fill:var(--ink);paint-order:stroke;stroke:var(--mark);stroke-width:8px;stroke-linejoin:round}
.pb-kept{fill:none;stroke:var(--ink-2);stroke-width:1.2}
.pb-aim{fill:none;stroke:var(--ink)}
.pb-tick{stroke:var(--ink);fill:none}.pb-tick.built{stroke-width:1.9}.pb-tick.planned{stroke-width:1}.pb-tick.out{stroke-width:1.9;stroke-dasharray:2.4 1.6}
.pb-base{stroke:var(--ink);fill:none;stroke-width:1}.pb-base.built{stroke-width:3}.pb-base.none{stroke-dasharray:1 3;stroke-linecap:round}
.pb-loz{fill:var(--ground);stroke:var(--ink);stroke-width:1.4}.pb-loz.proved,.pb-loz.half{stroke:var(--proved)}.pb-loz.proved{fill:var(--proved)}.pb-loz.failed{stroke:var(--fault)}.pb-loz-half{fill:var(--proved)}.pb-loz-mark{fill:none;stroke:var(--ground);stroke-width:1.7}.pb-loz-mark.failed{stroke:var(--fault);stroke-width:2}
.pb-lane{fill:none}.pb-lane.built{stroke:var(--c);stroke-width:3}.pb-lane.planned{stroke:var(--p);stroke-width:1.2}.pb-lane.faint{opacity:.45}
${WIRE_CLASSES}.c-x{--c:var(--ink);--k:transparent;--p:var(--ink)}`;

/** Colours and rules for a page: paper by default, either ground by \`data-ground\` on an element and all below it. */
export function pageStyle(): string {
  return `:root,[data-ground="paper"]{${colours('paper')}}\n[data-ground="slate"]{${colours('slate')}}\n${DRAWING_CSS}`;
}

/** Colours of one ground and the rules, for a drawing that stands alone. */
export function standaloneStyle(ground: Ground): string {
  return `.pb{${colours(ground)}}\n${DRAWING_CSS}`;
}

/** A style sheet inside XML: it holds no markup of its own, but quotes and the child sign must survive. */
export function escapeStyle(css: string): string {
  return css.replace(/&/g, '&amp;').replace(/</g, '&lt;');
}

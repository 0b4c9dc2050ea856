// Levels and loads of every net: the least margin first, the current asked for against what is promised, the capacitance against
// the load at which delays are specified.

import { useState } from 'preact/hooks';
import { Cross } from '../../frame/marks.tsx';
import type { MarginsAnswer, NetMarginUi } from '../../protocol.ts';
import { select, selection } from '../../state/store.ts';
import { figure } from './words.ts';

type By = 'level' | 'load' | 'name';
const round = (value: number | null): number | null => (value === null ? null : Math.round(value * 100) / 100);

const loadShare = (net: NetMarginUi): number =>
  net.pf === null
    ? -1
    : Math.max(0, ...net.drivers.map((driver) => net.pf! / (driver.testLoadPf ?? Number.POSITIVE_INFINITY)));

export function Levels({ answer }: { answer: MarginsAnswer }) {
  const [by, setBy] = useState<By>('level');
  const [onlyOpen, setOnlyOpen] = useState(false);
  const nets = [...answer.nets]
    .filter((net) => !onlyOpen || net.unknown.length > 0)
    .sort((a, b) =>
      by === 'name'
        ? a.net.localeCompare(b.net, 'en', { numeric: true })
        : by === 'load'
          ? loadShare(b) - loadShare(a)
          : (a.worst ?? 99) - (b.worst ?? 99),
    );
  const open = answer.nets.filter((net) => net.unknown.length > 0).length;
  return (
    <div class="mg-list">
      <div class="mg-hd">
        <h2>{answer.nets.length} nets that something drives</h2>
        {(
          [
            ['level', 'least level first'],
            ['load', 'greatest load first'],
            ['name', 'by name'],
          ] as const
        ).map(([id, title]) => (
          <button type="button" class="pick" key={id} aria-pressed={by === id} onClick={() => setBy(id)}>
            {title}
          </button>
        ))}
        <button type="button" class="pick" aria-pressed={onlyOpen} onClick={() => setOnlyOpen(!onlyOpen)}>
          with figures missing: {open}
        </button>
      </div>
      <table>
        <thead>
          <tr>
            <th scope="col">net</th>
            <th scope="col" class="r">
              V to spare
            </th>
            <th scope="col">between</th>
            <th scope="col">driver</th>
            <th scope="col" class="r">
              sinks mA
            </th>
            <th scope="col" class="r">
              sources mA
            </th>
            <th scope="col" class="r">
              unit loads
            </th>
            <th scope="col" class="r">
              pF
            </th>
            <th scope="col" class="r">
              adds ns
            </th>
          </tr>
        </thead>
        <tbody>
          {nets.map((net) => (
            <Net key={net.net} net={net} />
          ))}
        </tbody>
      </table>
    </div>
  );
}

function Net({ net }: { net: NetMarginUi }) {
  const driver = net.drivers.reduce<NetMarginUi['drivers'][number] | undefined>(
    (worst, item) => (worst === undefined || (item.addedNs ?? 0) > (worst.addedNs ?? 0) ? item : worst),
    undefined,
  );
  const over = (need: number | null, can: number | null): boolean => need !== null && can !== null && need > can + 1e-9;
  const isOn = selection.value.net === net.net;
  const isBad = net.worst !== null && net.worst < 0;
  return (
    <tr class={isOn ? 'on' : ''}>
      <td>
        <button type="button" class="m" onClick={() => select({ net: net.net })}>
          {net.net}
        </button>
      </td>
      <td class={`m r b${isBad ? ' fault' : ''}`}>
        {isBad && <Cross />} {figure(net.worst)}
      </td>
      <td>
        {net.worstAt === '' && net.unknown.length === 0 ? <span class="q">nothing listens</span> : net.worstAt}
        {net.unknown.length > 0 && (
          <span class="q s">
            {' '}
            not known: {net.unknown.slice(0, 2).join('; ')}
            {net.unknown.length > 2 && ` and ${net.unknown.length - 2} more`}
          </span>
        )}
      </td>
      <td class="m">
        {driver?.driver}
        {net.drivers.length > 1 && <span class="q"> +{net.drivers.length - 1}</span>}
      </td>
      <td class={`m r nowrap${driver !== undefined && over(driver.sinkMa, driver.canSinkMa) ? ' fault b' : ''}`}>
        {driver === undefined ? '' : `${figure(round(driver.sinkMa))} of ${figure(driver.canSinkMa)}`}
      </td>
      <td class={`m r nowrap${driver !== undefined && over(driver.sourceMa, driver.canSourceMa) ? ' fault b' : ''}`}>
        {driver === undefined
          ? ''
          : driver.canSourceMa === null && driver.sourceMa === 0
            ? '0'
            : `${figure(round(driver.sourceMa))} of ${figure(driver.canSourceMa)}`}
      </td>
      <td class="m r">{figure(driver?.units ?? null)}</td>
      <td
        class="m r nowrap"
        title={net.boardsPf > 0 ? `${net.boardsPf} pF of them on the boards` : 'no layout: pins only'}
      >
        {figure(net.pf === null ? null : Math.round(net.pf))} of {figure(driver?.testLoadPf ?? null)}
      </td>
      <td class="m r">{figure(driver?.addedNs ?? null)}</td>
    </tr>
  );
}

// Which channel shows which net: as found, and as told by hand. Told once; kept with the build.

import { useState } from 'preact/hooks';
import type { BringupChannel, BringupReading } from '../../bringup-protocol.ts';
import { select, stage } from '../../state/store.ts';
import { tellChannel } from './state.ts';

const HOW: Readonly<Record<string, string>> = {
  hand: 'told',
  lead: 'by its lead',
  name: 'by name',
  shape: 'by its shape',
};

export function Channels({ reading }: { reading: BringupReading }) {
  const { channels } = reading;
  const unknown = channels.filter(({ net, isLeftOut }) => net === undefined && !isLeftOut).length;
  const [isOpen, setOpen] = useState(unknown > 0);
  return (
    <details class="bu-channels" open={isOpen} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>
        {channels.length} channels
        {unknown > 0 ? `, ${unknown} not told yet` : ', all told'}
      </summary>
      <table>
        <thead>
          <tr>
            <th scope="col">channel</th>
            <th scope="col">shows</th>
            <th scope="col">turned</th>
            <th scope="col" class="r">
              agrees
            </th>
          </tr>
        </thead>
        <tbody>
          {channels.map((channel) => (
            <Row key={channel.name} channel={channel} nets={reading.nets} />
          ))}
        </tbody>
      </table>
    </details>
  );
}

function Row({ channel, nets }: { channel: BringupChannel; nets: readonly string[] }) {
  const { name, net, isLeftOut, inverted, how, agreement } = channel;
  const value = isLeftOut ? '-' : (net ?? '');
  return (
    <tr>
      <td class="m">{name}</td>
      <td>
        <select
          class="well m"
          aria-label={`Net of channel ${name}`}
          value={value}
          onChange={(event) => {
            const next = event.currentTarget.value;
            if (next !== '') tellChannel(stage.value, name, next === '-' ? null : next, inverted);
          }}
        >
          <option value="">not told</option>
          <option value="-">left out</option>
          {nets.map((one) => (
            <option key={one} value={one}>
              {one}
            </option>
          ))}
        </select>{' '}
        <span class="q">{how === undefined ? '' : (HOW[how] ?? how)}</span>
      </td>
      <td>
        {net !== undefined && (
          <input
            type="checkbox"
            aria-label={`Channel ${name} shows the opposite`}
            checked={inverted}
            onChange={(event) => tellChannel(stage.value, name, net, event.currentTarget.checked)}
          />
        )}
      </td>
      <td class="r">
        {agreement === undefined || net === undefined ? (
          ''
        ) : (
          <button type="button" class="bu-agree" aria-label={`Show ${net} everywhere`} onClick={() => select({ net })}>
            {agreement === 1 ? '100 %' : `${(Math.floor(agreement * 1000) / 10).toFixed(1)} %`}
          </button>
        )}
      </td>
    </tr>
  );
}

// Address: who answers where. The maps as staffs, drawn and edited; who answers at one address and why; the devices as fused.

import { useEffect, useRef, useState } from 'preact/hooks';
import { Cross, Disc, Triangle, Words } from '../../frame/marks.tsx';
import type { AddressAnswer, AddressEntry, AddressSpaceData } from '../../protocol.ts';
import { isNarrow, isPhone, model, select, selection, showFinding, showText, size, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import type { Place } from '../registry.ts';
import './address.css';
import { Fused } from './fused.tsx';
import { change, hex, sizeText, sizeWords } from './moves.ts';
import { Staff } from './staff.tsx';

function Address() {
  const data = useAsk('address', { stage: stage.value });
  const [cursor, setCursor] = useState<{ space: string; at: number } | undefined>(undefined);
  const [chosen, setChosen] = useState<number | undefined>(undefined);
  const { part } = selection.value;
  // What is selected elsewhere is chosen here.
  useEffect(() => {
    if (part === undefined || data === undefined) return;
    const all = data.spaces.flatMap((space) => space.entries);
    const found = all.find((entry) => entry.part.toLowerCase() === part.toLowerCase());
    if (found !== undefined && all.find((entry) => entry.index === chosen)?.part !== found.part) setChosen(found.index);
  }, [part, data === undefined]);
  if (data === undefined) return <div class="empty" />;
  if (data.spaces.length === 0)
    return (
      <div class="empty">
        <h2>Nothing has an address yet</h2>
        <p>
          {model.value.parts === 0
            ? 'There are no parts.'
            : 'Say under `memory` and `ports` where parts answer, and which processor they are on under `buses`; the map, the selects and the fuse file follow.'}
        </p>
      </div>
    );
  const phone = isPhone.value;
  const wide = size.value.width - (phone ? 32 : 48);
  const inner = phone ? wide : Math.max(300, wide);
  const share = data.spaces.length > 1 ? (isNarrow.value ? 0.29 : 0.29) : isNarrow.value ? 0.42 : 0.36;
  const staffWidth = phone ? inner : Math.floor(inner * share);
  const panelWidth = phone ? inner : inner - staffWidth * data.spaces.length - 26 * data.spaces.length;
  const height = Math.max(380, size.value.height - 96 - 42 - 78);
  const entries = data.spaces.flatMap((space) => space.entries);
  const entry = entries.find((one) => one.index === chosen);
  const at = cursor ?? defaultCursor(data.spaces);
  const move = (space: AddressSpaceData, one: AddressEntry, first: number, bytes: number): void =>
    void change(`${one.part} to ${hex(first, space.digits)}, ${sizeWords(bytes)}`, {
      stage: stage.value,
      do: 'move',
      index: one.index,
      at: hex(first, space.digits),
      size: sizeText(bytes),
    });
  const remove = (one: AddressEntry): void =>
    void change(`take ${one.part} out of the map`, { stage: stage.value, do: 'remove', index: one.index });
  return (
    <div class={`address${phone ? ' one' : ''}`}>
      <section
        class="maps"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
        tabIndex={0}
        aria-label="The maps"
        style={phone ? {} : { width: `${staffWidth * data.spaces.length + 26 * data.spaces.length}px` }}
      >
        {data.spaces.map((space) => (
          <div key={space.name} style={{ width: `${staffWidth}px` }}>
            <h2>
              {space.name === 'memory' ? 'Memory' : 'Ports'}{' '}
              {space.from !== undefined && space.from > 1 && <span class="q">from stage {space.from}</span>}
            </h2>
            <Staff
              space={space}
              width={staffWidth}
              height={height}
              cursor={at.space === space.name ? at.at : undefined}
              chosen={chosen}
              onCursor={(address) => setCursor({ space: space.name, at: address })}
              onChoose={(index) => {
                setChosen(index);
                const found = entries.find((one) => one.index === index);
                if (found !== undefined) select({ part: found.part });
              }}
              onMove={(one, first, bytes) => move(space, one, first, bytes)}
              onRemove={remove}
            />
          </div>
        ))}
      </section>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <section class="beside" tabIndex={0} aria-label="Who answers, and what is fused">
        <Who data={data} at={at} onAt={(space, address) => setCursor({ space, at: address })} />
        {entry !== undefined && (
          <EditEntry
            key={entry.index}
            entry={entry}
            space={data.spaces.find((space) => space.entries.includes(entry))!}
            onRemove={() => remove(entry)}
          />
        )}
        {data.unmapped.length > 0 && <Add names={data.unmapped} spaces={data.spaces} />}
        {data.devices.map((device) => (
          <Fused key={device.part} device={device} width={panelWidth - 20} />
        ))}
        {data.fixed.map((one) => (
          <section key={`${one.part} ${one.outputs[0]?.pin}`} aria-label={one.part} class="fixed">
            <h2>
              <span class={part === one.part ? 'hl' : ''}>{one.part}</span>{' '}
              <span class="q">{one.type}, nothing to program</span>
            </h2>
            <p class="s q">looks at {one.inputs.map((input) => `${input.net} (${input.pin})`).join(', ')}</p>
            <ul class="equations">
              {one.outputs.map((output) => (
                <li key={output.pin}>
                  <button type="button" class="m" onClick={() => select({ net: output.net })}>
                    {output.net}
                  </button>
                  <span class="q s">
                    at {output.pin}
                    {output.part === '' ? '' : `, selects ${output.part}`}
                  </span>
                </li>
              ))}
            </ul>
          </section>
        ))}
        <ul class="mapfindings">
          {data.findings.slice(0, 30).map((finding) => (
            <li key={finding.id}>
              <span class={finding.severity === 'error' ? 'fault' : finding.severity === 'warning' ? 'doubt' : ''}>
                {finding.severity === 'error' ? <Cross /> : finding.severity === 'warning' ? <Triangle /> : <Disc />}
                <span class="vh">{finding.severity}</span>
              </span>{' '}
              <Words text={finding.message} />{' '}
              <button type="button" class="do s" onClick={() => showFinding(finding)}>
                why
              </button>
            </li>
          ))}
        </ul>
      </section>
    </div>
  );
}

/** Where nobody has pointed yet: where the processor starts, or the first thing that is mapped. */
function defaultCursor(spaces: readonly AddressSpaceData[]): { space: string; at: number } {
  const [first] = spaces;
  const reset = first?.vectors.find((vector) => vector.name === 'reset');
  return { space: first?.name ?? 'memory', at: reset?.at ?? first?.entries[0]?.at ?? 0 };
}

function Who({
  data,
  at,
  onAt,
}: {
  data: AddressAnswer;
  at: { readonly space: string; readonly at: number };
  onAt: (space: string, address: number) => void;
}) {
  const { spaces } = data;
  const space = spaces.find((one) => one.name === at.space) ?? spaces[0]!;
  const block = space.blocks.find((one) => one.from <= at.at && at.at <= one.to);
  const answers = block?.answers ?? [];
  const entry = space.entries.find(
    (one) =>
      (one.state === 'built' || one.state === 'planned') &&
      one.at <= at.at &&
      at.at < one.at + one.bytes &&
      answers.some((answer) => answer.part.toLowerCase() === one.part.toLowerCase()),
  );
  const bits = Math.max(1, Math.round(Math.log2(space.size)));
  const names = [...new Set(answers.map((answer) => answer.part))];
  const who =
    block?.state === 'gap'
      ? 'nobody'
      : block?.state === 'again'
        ? 'a mirror'
        : `${names.join(block?.state === 'double' ? ' and ' : ', ')}`;
  const later = space.entries.find((one) => one.state === 'later' && one.at <= at.at && at.at < one.at + one.bytes);
  const decides = decisive(
    data,
    space,
    answers.map((answer) => answer.net),
  );
  return (
    <div class="whoat">
      <h2>
        <label for="address-at">Who answers at</label>{' '}
        <input
          id="address-at"
          class="well m"
          type="text"
          size={space.digits + 1}
          value={hex(at.at, space.digits)}
          onChange={(event) => {
            const value = Number.parseInt(event.currentTarget.value.replace(/^0x/i, ''), 16);
            if (Number.isInteger(value)) onAt(space.name, Math.min(space.size - 1, Math.max(0, value)));
          }}
        />{' '}
        <span class="q">{space.name === 'ports' ? 'among the ports' : 'in memory'}</span>
      </h2>
      <p class="figure" aria-live="polite">
        <span class="m">{hex(at.at, space.digits)}</span> <b class={block?.state === 'double' ? 'fault' : ''}>{who}</b>
      </p>
      <p class="m bits">
        {Array.from({ length: bits }, (_, k) => {
          const bit = bits - 1 - k;
          const level = Math.floor(at.at / 2 ** bit) % 2;
          return (
            <span
              key={bit}
              class={`${decides.includes(bit) ? 'hl b' : ''}${bit % 4 === 0 && bit > 0 ? ' nibble' : ''}`}
            >
              {level}
            </span>
          );
        })}
      </p>
      <p class="q">
        {block?.state === 'gap' && space.mayMirror.length > 0 && (
          <>Free: {space.mayMirror.join(', ')} may answer here, should that save terms. </>
        )}
        {block?.state === 'gap' &&
          (later === undefined ? 'Nothing is mapped here.' : `${later.part} comes here in stage ${later.stage}.`)}
        {block?.state === 'again' && 'Lines that nobody looks at: what is mapped below answers here as well.'}
        {block?.state === 'double' && 'Two parts answer at once, and fight over the data lines.'}
        {(block?.state === 'mapped' || block?.state === 'mirror') && (
          <>
            {entry === undefined
              ? 'As a mirror'
              : `Byte ${hex(at.at - entry.at, Math.max(2, Math.ceil(Math.log2(entry.bytes) / 4)))} of its region`}
            {answers.some((answer) => answer.when !== '')
              ? `, while ${answers
                  .map((answer) => answer.when)
                  .filter((when) => when !== '')
                  .join(' or ')}`
              : ''}
            {answers.some((answer) => answer.access !== '')
              ? `, ${answers
                  .map((answer) => answer.access)
                  .filter((word) => word !== '')
                  .join(' and ')} only`
              : ''}
            .{' '}
            {decides.length === 0
              ? 'No line decides.'
              : `${decides.map((bit) => space.lines[bit] ?? `A${bit}`).join(', ')} ${decides.length === 1 ? 'decides' : 'decide'}.`}
          </>
        )}
      </p>
    </div>
  );
}

/** The address bits that the selects look at, highest first. */
function decisive(data: AddressAnswer, space: AddressSpaceData, nets: readonly string[]): number[] {
  const looked = new Set<string>();
  for (const device of data.devices)
    for (const row of device.rows)
      if (nets.includes(row.net))
        for (const term of row.terms)
          for (const [k, level] of term.entries())
            if (level !== undefined) looked.add(device.columns[k]?.net.toLowerCase() ?? '');
  for (const one of data.fixed)
    if (one.outputs.some((output) => nets.includes(output.net)))
      for (const input of one.inputs) looked.add(input.net.toLowerCase());
  return space.lines.flatMap((line, bit) => (looked.has(line.toLowerCase()) ? [bit] : [])).reverse();
}

function Field(view: { label: string; size: number; value: string; onValue: (value: string) => void }) {
  return (
    <label>
      {view.label}{' '}
      <input
        class="well m"
        size={view.size}
        type="text"
        value={view.value}
        onInput={(event) => view.onValue(event.currentTarget.value)}
      />
    </label>
  );
}

function EditEntry({ entry, space, onRemove }: { entry: AddressEntry; space: AddressSpaceData; onRemove: () => void }) {
  // What is typed stands until it is where the region is; anything else that moves the region shows at once.
  const [typedAt, setAt] = useState<string | undefined>(undefined);
  const [typedBytes, setBytes] = useState<string | undefined>(undefined);
  const sent = useRef<readonly (string | undefined)[]>([]);
  const at = typedAt ?? hex(entry.at, space.digits);
  const bytes = typedBytes ?? sizeText(entry.bytes);
  useEffect(() => {
    setAt((now) => (now === sent.current[0] ? undefined : now));
    setBytes((now) => (now === sent.current[1] ? undefined : now));
  }, [entry.at, entry.bytes]);
  const say = (word: string): void =>
    void change(`mirrors of ${entry.part}: ${word === '' ? 'not said' : word}`, {
      stage: stage.value,
      do: 'say',
      index: entry.index,
      key: 'mirrors',
      ...(word === '' ? {} : { word }),
    });
  return (
    <form
      class="editentry"
      aria-label={`Where ${entry.part} answers`}
      onSubmit={(event) => {
        event.preventDefault();
        sent.current = [typedAt, typedBytes];
        void change(`${entry.part} to ${at}, ${bytes}`, {
          stage: stage.value,
          do: 'move',
          index: entry.index,
          at,
          size: bytes,
        });
      }}
    >
      <h2>
        <span class="hl">{entry.part}</span>{' '}
        <span class="q">{[entry.type, entry.holds].filter((word) => word !== '').join(', holds ')}</span>
      </h2>
      <div class="acts">
        <Field label="from" size={space.digits + 2} value={at} onValue={setAt} />
        <Field label="size" size={8} value={bytes} onValue={setBytes} />
        <button
          type="submit"
          class="do main"
          disabled={at === hex(entry.at, space.digits) && bytes === sizeText(entry.bytes)}
        >
          put it there
        </button>
        <label>
          mirrors{' '}
          <select class="well" value={entry.mirrors} onChange={(event) => say(event.currentTarget.value)}>
            <option value="">as the lines allow</option>
            <option value="allowed">allowed, for fewer terms</option>
            <option value="forbidden">forbidden</option>
          </select>
        </label>
        <button type="button" class="do" onClick={onRemove}>
          take it out of the map
        </button>
        <button type="button" class="do" onClick={() => showText(entry.place)}>
          {entry.place.file}, line {entry.place.line}
        </button>
      </div>
    </form>
  );
}

function Add({ names, spaces }: { names: readonly string[]; spaces: readonly AddressSpaceData[] }) {
  const [part, setPart] = useState(names[0] ?? '');
  const [space, setSpace] = useState<'memory' | 'ports'>('memory');
  const [at, setAt] = useState('');
  const [bytes, setBytes] = useState('');
  const wanted = names.includes(part) ? part : (names[0] ?? '');
  return (
    <form
      class="editentry"
      aria-label="Give a part an address"
      onSubmit={(event) => {
        event.preventDefault();
        void change(`${wanted} at ${at}`, { stage: stage.value, do: 'add', part: wanted, space, at, size: bytes });
      }}
    >
      <h2>On a bus, without an address</h2>
      <div class="acts">
        <label>
          part{' '}
          <select class="well" value={wanted} onChange={(event) => setPart(event.currentTarget.value)}>
            {names.map((name) => (
              <option key={name} value={name}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <label>
          in{' '}
          <select
            class="well"
            value={space}
            onChange={(event) => setSpace(event.currentTarget.value === 'ports' ? 'ports' : 'memory')}
          >
            <option value="memory">memory</option>
            <option value="ports">ports</option>
          </select>
        </label>
        <Field label="from" size={(spaces[0]?.digits ?? 4) + 2} value={at} onValue={setAt} />
        <Field label="size" size={8} value={bytes} onValue={setBytes} />
        <button type="submit" class="do main" disabled={at === '' || bytes === ''}>
          put it there
        </button>
      </div>
    </form>
  );
}

export const addressPlace: Place = { id: 'address', title: 'Address', View: Address };

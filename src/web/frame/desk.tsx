// What belongs to the whole desk: which build this is of the machine, and a second device at the bench.

import { useEffect, useRef, useState } from 'preact/hooks';
import { renderSVG } from 'uqr';
import { chooseBuild, type SecondAnswer, secondDevice } from '../state/session.ts';
import { model, notice } from '../state/store.ts';

const BUILD_NAME = /^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u;

export function Desk() {
  const [open, setOpen] = useState(false);
  const own = useRef<HTMLDivElement>(null);
  const button = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    if (!open) return;
    const outside = (event: Event): void => {
      if (own.current?.contains(event.target as Node) === false) setOpen(false);
    };
    const keys = (event: KeyboardEvent): void => {
      if (event.key !== 'Escape') return;
      setOpen(false);
      button.current?.focus();
    };
    addEventListener('pointerdown', outside);
    addEventListener('keydown', keys);
    return () => {
      removeEventListener('pointerdown', outside);
      removeEventListener('keydown', keys);
    };
  }, [open]);
  const { build, builds } = model.value;
  return (
    <div class="desk" ref={own}>
      <button
        ref={button}
        type="button"
        aria-expanded={open}
        title="Which build this is, and a second device at the bench"
        onClick={() => setOpen(!open)}
      >
        build <b>{build}</b>
        {builds.length > 1 && ` of ${builds.length}`}
      </button>
      {open && (
        <section class="leaf" aria-label="Builds and a second device">
          <Builds done={() => setOpen(false)} />
          <Second />
        </section>
      )}
    </div>
  );
}

/** One machine can be built more than once, each on boards of its own. */
function Builds({ done }: { done: () => void }) {
  const { build, builds } = model.value;
  const [name, setName] = useState('');
  const take = (wanted: string): void => {
    chooseBuild(wanted);
    done();
  };
  const fits = BUILD_NAME.test(name.trim());
  return (
    <>
      <h2>Builds of this machine</h2>
      <ul>
        {[...new Set([...builds, build])].sort().map((item) => (
          <li key={item}>
            {item === build ? (
              <b aria-current="true">{item}, shown here</b>
            ) : (
              <button type="button" class="do" onClick={() => take(item)}>
                show {item}
              </button>
            )}
          </li>
        ))}
      </ul>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          if (fits) take(name.trim());
          else notice.value = 'A build’s name is made of letters, digits, spaces, dots and dashes.';
        }}
      >
        <label>
          a further build, by the name{' '}
          <input value={name} onInput={(event) => setName(event.currentTarget.value)} autocomplete="off" />
        </label>
        <button type="submit" class="do" disabled={name.trim() === ''}>
          begin
        </button>
      </form>
      <p class="q">Its folder is made with its first layout: boards, stock and journal of its own.</p>
    </>
  );
}

function Second() {
  const [now, setNow] = useState<SecondAnswer | undefined>();
  const [busy, setBusy] = useState(false);
  const ask = (on?: boolean): void => {
    setBusy(true);
    secondDevice(on).then(
      (answer) => {
        setNow(answer);
        setBusy(false);
      },
      (error: unknown) => {
        setBusy(false);
        notice.value = error instanceof Error ? error.message : 'The server could not do it.';
      },
    );
  };
  useEffect(() => ask(), []);
  if (now === undefined) return null;
  if (!now.own) return <p class="q">This is a second device: it is let in and shut out from the first.</p>;
  const { link } = now;
  return (
    <>
      <h2>A second device at the bench</h2>
      {link === null ? (
        <>
          <p>
            A tablet beside the boards can show this page too. While it is let in, anybody in your network who has the
            link can read and change this project.
          </p>
          <button type="button" class="do main" disabled={busy} onClick={() => ask(true)}>
            let a second device in
          </button>
        </>
      ) : (
        <>
          {link.urls.map((url) => (
            <figure key={url}>
              <div
                class="code"
                role="img"
                aria-label="The link as a code for the second device’s camera"
                dangerouslySetInnerHTML={{ __html: renderSVG(url, { border: 2 }) }}
              />
              <figcaption>
                <a href={url} class="m">
                  {url}
                </a>
              </figcaption>
            </figure>
          ))}
          <p>
            The other browser will warn that it doesn’t know the certificate: it was made just now, on this desk.
            Compare its SHA-256 before you go on; it must read
          </p>
          <p class="m print">{link.fingerprint}</p>
          <button type="button" class="do main" disabled={busy} onClick={() => ask(false)}>
            shut it out
          </button>
        </>
      )}
    </>
  );
}

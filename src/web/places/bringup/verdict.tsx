// What a capture says: right in the part exercised, a place to look at, or none of these; and from the place to its mending.

import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { BringupDiagnosis, BringupPlaceRow, BringupReading } from '../../bringup-protocol.ts';
import { act } from '../../state/history.ts';
import { notice, place as placeNow, select, stage } from '../../state/store.ts';

const percent = (share: number): string =>
  share > 0.995 ? 'almost sure' : share < 0.01 ? 'under 1 %' : `${Math.round(100 * share)} %`;

/** A place among the groups: which group, which place in it. */
export interface Chosen {
  readonly group: number;
  readonly place: number;
}

export function Verdict({
  diagnosis,
  reading,
  places,
  chosen,
  choose,
  children,
}: {
  diagnosis: BringupDiagnosis;
  reading: BringupReading;
  /** The ranking after measurements, where there were any. */
  places: readonly BringupPlaceRow[] | undefined;
  chosen: Chosen;
  choose(next: Chosen): void;
  /** What comes before the list of places. */
  children?: ComponentChildren;
}) {
  const { verdict, groups } = diagnosis;
  return (
    <section class="bu-verdict" aria-label="What the capture says">
      {verdict === 'correct' ? (
        <>
          <h2 class="proved">Right, in the part exercised</h2>
          <p>
            Nothing that these {reading.channels.filter(({ net }) => net !== undefined).length} channels show differs
            from the machine as meant. {diagnosis.hypotheses} slips were tried; the chance that it is right is{' '}
            {percent(diagnosis.correct)}. What the program did not touch in this capture is not proved by it.
          </p>
        </>
      ) : verdict === 'differs' ? (
        <>
          <h2>Which wire is it?</h2>
          <p>{reading.first ?? 'It differs where nothing firm could be predicted.'}</p>
        </>
      ) : (
        <>
          <h2 class="doubt">None of these</h2>
          <p>
            {reading.first ?? ''} No single slip out of {diagnosis.hypotheses} explains the capture. Look at supply and
            clock with a meter first, then at the channels: is every lead where it should be? Two slips at once are
            possible. A capture with other channels, from reset on, tells more.
          </p>
        </>
      )}
      {children}
      {verdict !== 'correct' && places !== undefined && (
        <ul class="bu-groups" aria-label="Places to look at, after what was measured">
          {places.map((place, p) => (
            <PlaceLine
              key={place.text}
              place={place}
              is={chosen.group === 0 && chosen.place === p}
              share={percent(place.likelihood)}
              choose={() => choose({ group: 0, place: p })}
            />
          ))}
        </ul>
      )}
      {verdict !== 'correct' && places === undefined && groups.length > 0 && (
        <ol
          class="bu-groups"
          aria-label={verdict === 'differs' ? 'Places to look at' : 'The nearest, none of which explains it all'}
        >
          {groups.map((group, g) => (
            <li key={g}>
              <p class="bu-share">
                <b>{percent(group.likelihood)}</b>
                {group.places.length + group.more > 1 && (
                  <span class="q"> {group.places.length + group.more} places that look alike from here</span>
                )}
              </p>
              <ul>
                {group.places.map((place, p) => (
                  <PlaceLine
                    key={place.text}
                    place={place}
                    is={chosen.group === g && chosen.place === p}
                    share=""
                    choose={() => choose({ group: g, place: p })}
                  />
                ))}
              </ul>
              {group.more > 0 && <p class="q">and {group.more} more</p>}
            </li>
          ))}
        </ol>
      )}
    </section>
  );
}

function PlaceLine({
  place,
  is,
  share,
  choose,
}: {
  place: BringupPlaceRow;
  is: boolean;
  share: string;
  choose(): void;
}) {
  return (
    <li>
      <button
        type="button"
        class="bu-place"
        aria-pressed={is}
        onClick={() => {
          choose();
          if (place.wire !== undefined) select({ wire: place.wire });
          else if (place.part !== undefined) select({ part: place.part });
        }}
      >
        <span>{place.text}</span>
        <span class="q">
          {[share, place.step === undefined ? '' : `step ${place.step}`].filter((word) => word !== '').join(', ')}
        </span>
      </button>
      {is && <Mend place={place} />}
    </li>
  );
}

/** The fault goes into the journal; its step comes back in Build where it was done. */
function Mend({ place }: { place: BringupPlaceRow }) {
  const [busy, setBusy] = useState(false);
  const mend = async (): Promise<void> => {
    setBusy(true);
    try {
      const isBack =
        place.stepId !== undefined && (await act(`not right: ${place.text}`, { do: 'wrong', step: place.stepId }));
      if (!isBack)
        await act(`fault: ${place.text}`, { do: 'word', act: 'fault', text: place.fault, stage: stage.value });
      notice.value = isBack
        ? 'Noted as a fault. Switch off; the step is to be done again.'
        : 'Noted as a fault. Switch off, mend it, and capture again.';
      if (isBack) placeNow.value = 'build';
    } finally {
      setBusy(false);
    }
  };
  return (
    <div class="bu-mend">
      <p>{place.fault}</p>
      <button type="button" class="do main" disabled={busy} onClick={() => void mend()}>
        it is this: mend it
      </button>
    </div>
  );
}

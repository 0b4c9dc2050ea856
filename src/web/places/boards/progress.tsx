// The run of the layout, as a base that thickens.

import { layState, stopLay } from '../../state/lay-run.ts';

/** The run of the layout: a base that thickens, and a way to stop. */
export function Progress() {
  const state = layState.value;
  if (state === undefined) return null;
  return (
    <div class="acts" style={{ flexWrap: 'nowrap' }}>
      <span>{state.stopping ? 'taking the best so far' : 'laying out'}</span>
      <div
        class="progress"
        role="progressbar"
        aria-label="Layout"
        aria-valuemin={0}
        aria-valuemax={100}
        aria-valuenow={Math.round(state.share * 100)}
      >
        <i style={{ width: `${(state.share * 100).toFixed(1)}%` }} />
      </div>
      <span class="m">{state.best > 0 ? `best ${Math.round(state.best)}` : ''}</span>
      <button type="button" class="do" disabled={state.stopping} onClick={stopLay}>
        stop
      </button>
    </div>
  );
}

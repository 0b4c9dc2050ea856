// Keeps the screen awake while the bench is shown. Where the browser can't or won't, the screen goes dark as it always does.

/** Starts; the answer ends it. */
export function keepAwake(): () => void {
  let lock: WakeLockSentinel | undefined;
  let isOver = false;
  const ask = (): void => {
    if (document.visibilityState !== 'visible' || !('wakeLock' in navigator)) return;
    navigator.wakeLock.request('screen').then(
      (granted) => {
        if (isOver) void granted.release();
        else lock = granted;
      },
      () => {
        // Refused, such as on a low battery: nothing to be done about it here.
      },
    );
  };
  document.addEventListener('visibilitychange', ask);
  ask();
  return () => {
    isOver = true;
    document.removeEventListener('visibilitychange', ask);
    void lock?.release();
  };
}

/** Whether somebody waits to read again: asked on every page, so apart from what shows the count. */
export const COUNTDOWN = "sillbook-countdown";

export function isCounting(storage = localStorage) {
  try {
    return storage.getItem(COUNTDOWN) !== null;
  } catch {
    return false; // blocked storage holds no count
  }
}

// Picking a mark or a strip with the pointer: its page is opened, or the view goes to its stretch.
import { siteText } from "../charts/plot.js";
import { bandAt } from "./bands.js";
import { markAt } from "./marks.js";

const CLICK_PX = 5; // a press that moved farther is a drag

export const wordsOf = (mark, offsetMin) =>
  [
    siteText(mark.from_s, offsetMin).replace("T", " "),
    mark.title,
    mark.words,
    mark.by,
    "click to open",
  ]
    .filter(Boolean)
    .join(" \u00b7 ");

/** What lies under the pointer in any of the charts; strips stand above their plot. */
function under(event, charts) {
  for (const { u, marks, bands } of charts) {
    const box = u.over.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    if (x < -4 || x > box.width + 4 || y > box.height + 4) continue;
    const found = y >= 0 ? markAt(u, marks, x, y) : bands && bandAt(u, bands, x, y);
    if (found) return found;
  }
  return null;
}

/** `charts()` gives the plots with their marks and strips; `look(from, to)` goes to a stretch. */
export function openOnClick(places, { charts, look }) {
  let pressed = null;
  for (const place of places) {
    place.addEventListener("pointerdown", (event) => {
      pressed = [event.clientX, event.clientY];
    });
    place.addEventListener("pointermove", (event) => {
      place.classList.toggle("opens", Boolean(under(event, charts())));
    });
    place.addEventListener("click", (event) => {
      const moved = pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]);
      const found = moved !== null && moved <= CLICK_PX ? under(event, charts()) : null;
      if (found?.href) location.href = found.href;
      else if (found) look(found.from_s, found.to_s); // a stretch without a page of its own
    });
  }
}

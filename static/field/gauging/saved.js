/** A saved gauging in words. */
import { address, byId, el } from "../../shared/dom.js";
import { dischargeLine, siteTime } from "../../shared/format.js";
import { stateMark } from "../base/states.js";
import { showSaved } from "../shell/entry_form.js";
import { verdictMark } from "./result.js";

/** What stands in the place of a saved gauging: its discharge, its verdict, the ways on. */
export function drawSaved(form, entry, { site, structure, visitId }) {
  const { preview } = entry.body;
  showSaved(
    form,
    el("p", { class: "big" }, stateMark("on this phone")),
    el(
      "p",
      {},
      preview.discharge_m3s === null
        ? `Kept without a discharge. ${preview.problem ?? ""}`
        : `${dischargeLine(preview.discharge_m3s, preview.uncertainty_pct)}.`,
    ),
    preview.discharge_m3s === null
      ? null
      : el("p", {}, verdictMark(preview.word), `: ${preview.reason}.`),
    preview.word === "fails"
      ? el(
          "p",
          {},
          "One gauging never changes a rating. Look at the crest, the gauge zero and the tail, then gauge again.",
        )
      : null,
    el(
      "p",
      {},
      `Saved at ${siteTime(entry.saved_at, site.utc_offset_min).slice(11)}. The office works it out again.`,
    ),
    el(
      "p",
      {},
      el(
        "a",
        {
          class: "button",
          href: address("/field/gauging", { structure: structure.id, visit: visitId }),
        },
        "Another gauging",
      ),
    ),
    el(
      "p",
      {},
      el(
        "a",
        { class: "button main", href: byId("back").href },
        visitId ? "Back to the visit" : `Back to ${site.name}`,
      ),
    ),
  );
}

/** What stands below a saved book: its state, and once the office has it what the office said. */
import { byId, el, fill } from "../../shared/dom.js";
import { siteTime } from "../../shared/format.js";
import { stateMark, stateWord } from "../base/states.js";
import { figure, signed } from "./view.js";

/** What was saved, and once the office has it what the office said. */
export async function drawSaved(entry, { context, reduced, place }) {
  const record = await context.outbox.get(entry.id);
  const { run, results } = reduced;
  const misclosure =
    run.misclosure === null
      ? "misclosure unknown"
      : `misclosure ${signed(run.misclosure_mm, 1)} mm, limit ${figure(run.limit_mm, 2)} mm`;
  const zero = entry.body.set_zero;
  fill(
    byId("saved"),
    el("p", { class: "big" }, stateMark(stateWord(record))),
    el("p", {}, `${results ? `Crest ${figure(results.crest_rl_m, 4)} m, ` : ""}${misclosure}.`),
    zero
      ? el(
          "p",
          {},
          `New gauge zero from ${siteTime(zero.from, place.site.utc_offset_min)}, ` +
            `${signed(results.zero_minus_crest_m * 1000, 1)} mm from the crest; in force when the office has stored it.`,
        )
      : null,
    record.notes.map((words) =>
      el("p", { class: words.includes("not set") ? "problem" : "" }, `The office: ${words}.`),
    ),
    record.refusal
      ? el("p", { class: "problem" }, `${record.refusal.rule}. ${record.refusal.remedy}`)
      : null,
    el(
      "p",
      {},
      el(
        "a",
        { class: "button main", href: byId("back").href },
        place.visitId ? "Back to the visit" : `Back to ${place.site.name}`,
      ),
    ),
  );
}

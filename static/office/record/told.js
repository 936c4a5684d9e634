// What is said under the chart: its legend, its strips in words, the highest flow of the view.
import { counted } from "../../shared/counted.js";
import { lineOf } from "../charts/colours.js";
import { el, legendLine } from "../charts/nodes.js";
import { ask, siteText } from "../charts/plot.js";
import { bandLines } from "./bands.js";
import { legendWords } from "./lines.js";
import { legendOf } from "./marks.js";

const HINT =
  "Move over the chart to read it; click a mark to open it; drag over a stretch to look closer.";

/** Say all of it for an answer; `part` finds the places on the page. */
export function tellView(part, { shown, marks, top, under, what, offsetMin, base }) {
  const several = shown.series.length > 1;
  const notes = [];
  if (shown.left_out)
    notes.push(`${counted(shown.left_out, "more reading")} between these: look closer to see more`);
  if (under.missing) notes.push("tailwater: none known in this view");
  part("legend").replaceChildren(
    ...shown.series.map((one, k) => legendLine(lineOf(k), several ? one.label : legendWords(one))),
    ...legendOf(marks, top),
    ...under.legend,
    ...notes.map((one) => el("li", { class: "quiet-text" }, one)),
  );
  const lines = bandLines(shown.series[0].bands, offsetMin);
  if (several && (lines.length || shown.marks.length))
    lines.unshift(`strips, marks and the lower chart are of ${shown.series[0].label}`);
  part("bands").replaceChildren(...lines.map((one) => el("li", {}, one)));
  part("bands-count").textContent = `Strips in words (${lines.length})`;
  part("bands")
    .closest("details")
    .toggleAttribute("hidden", lines.length === 0);
  const known =
    marks.points.length || shown.series.some((one) => one.mean.some((value) => value !== null));
  part("readout").textContent = known
    ? HINT
    : `No ${what} is known in this view.${what === "discharge" ? " The head may be: see the lower chart." : ""}`;
  tellHighest(part("peak"), { shown, offsetMin, base });
}

async function tellHighest(place, { shown, offsetMin, base }) {
  const { peak, label, of } = shown.series[0];
  place.textContent = "";
  if (!peak) return;
  const read = shown.marks.find((one) => one.from_s === peak.t && one.kind === "staff reading");
  const found =
    of === "logger"
      ? await ask(`${base}/reading.json?at=${peak.t}`).catch(() => null)
      : read && {
          words: `${siteText(read.from_s, offsetMin).replace("T", " ")} \u00b7 ${read.words}`,
        };
  const whose = shown.series.length > 1 ? `, ${label}` : "";
  if (found) place.textContent = `Highest in this view${whose}: ${found.words}`;
}

/** The gaugings that the office holds of this structure. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { dischargeLine, siteTime } from "../../shared/format.js";
import { verdictMark } from "./result.js";

/** The last gaugings here, from the office, for comparison on the spot. */
export function drawEarlier(place) {
  const mine = (place.site.check_gaugings ?? []).filter(
    (one) => one.structure_id === place.structure.id && place.stand.stands(one.id),
  );
  show(byId("earlier"), mine.length > 0);
  fill(
    byId("earlier-rows"),
    mine.map((one) =>
      el(
        "li",
        { class: "reading-row" },
        el(
          "div",
          { class: "line" },
          el("strong", {}, dischargeLine(one.discharge_m3s, one.uncertainty_pct)),
          verdictMark(one.word),
        ),
        el(
          "p",
          { class: "aside" },
          [
            siteTime(one.started_at, place.site.utc_offset_min).slice(0, 10),
            one.method,
            one.by_name,
            one.deviation_pct === null
              ? null
              : `${one.deviation_pct > 0 ? "+" : ""}${one.deviation_pct.toFixed(1)} %`,
          ]
            .filter(Boolean)
            .join(" \u00b7 "),
        ),
      ),
    ),
  );
}

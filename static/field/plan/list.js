/** The plans of a site, each with what was chosen. */
import { counted } from "../../shared/counted.js";
import { address, byId, el, fill } from "../../shared/dom.js";
import { siteTime } from "../../shared/format.js";

/** The plans of a site. */
export function list(plans, site) {
  if (!plans.length) {
    fill(
      byId("plans"),
      el(
        "p",
        {},
        "No plan of this site is on this phone. The first one is made in the office, on the page of the site.",
      ),
    );
    return;
  }
  fill(
    byId("plans"),
    el(
      "ul",
      { class: "rows" },
      plans.map((plan) =>
        el(
          "li",
          {},
          el(
            "a",
            { class: "row", href: address("/field/plan", { site: site.id, plan: plan.id }) },
            el("strong", {}, plan.name),
            el("span", {}, chosenWords(plan)),
            el(
              "span",
              { class: "aside" },
              `${plan.by_name}, ${siteTime(plan.created_at, site.utc_offset_min)}`,
            ),
          ),
        ),
      ),
    ),
  );
}

function chosenWords(plan) {
  if (plan.chosen === null)
    return `${counted(plan.result.candidates.length, "candidate")}, none chosen yet`;
  const one = plan.result.candidates[plan.chosen];
  return `Chosen: ${one.described}, crest ${one.crest_rl_m.toFixed(3)} m`;
}

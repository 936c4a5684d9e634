/** A plan on the page: pictures and tables as the office worked them out. */
import { byId, el, fill } from "../../shared/dom.js";
import { drawing } from "../../shared/drawing.js";
import { siteTime } from "../../shared/format.js";

const SHAPES = { suits: "\u2713", "suits with care": "\u25b3", "does not suit": "\u2715" };

const verdict = (word) =>
  el("span", { class: "verdict", "data-word": word }, `${SHAPES[word] ?? ""} ${word}`);
const known = (value, digits, unit = "") =>
  value === null || value === undefined ? "?" : `${value.toFixed(digits)}${unit}`;

function rows(flows) {
  return [
    ["Head", flows.map((f) => known(f.head_m === null ? null : f.head_m * 1000, 0, " mm"))],
    ["\u00b1 of flow", flows.map((f) => known(f.discharge_uncertainty_pct, 1, " %"))],
    ["Upstream", flows.map((f) => known(f.upstream_level_m, 3))],
    ["With weed", flows.map((f) => known(f.submergence_weedy, 2))],
    ["Limit", flows.map((f) => known(f.modular_limit, 2))],
    ["Freeboard", flows.map((f) => known(f.freeboard_m, 3))],
  ];
}

/** Flows side by side. */
export function table(flows, more = []) {
  const head = el(
    "thead",
    {},
    el(
      "tr",
      {},
      el("th", { scope: "col" }, "Flow, L/s"),
      flows.map((f) =>
        el("th", { scope: "col" }, `${Number((f.discharge_m3s * 1000).toPrecision(3))}`),
      ),
    ),
  );
  return el(
    "table",
    { class: "flows" },
    head,
    el(
      "tbody",
      {},
      [...rows(flows), ...more].map(([name, cells]) =>
        el(
          "tr",
          {},
          el("th", { scope: "row" }, name),
          cells.map((cell) => el("td", {}, cell)),
        ),
      ),
    ),
  );
}

/** A plan as the office worked it out: its candidates and the checks of the ground. */
export function drawPlan({ plan, site }) {
  document.title = `${plan.name} \u00b7 Sillbook`;
  byId("plan-name").textContent = plan.name;
  byId("plan-made").textContent =
    `${plan.by_name}, ${siteTime(plan.created_at, site.utc_offset_min)}. ${plan.result.permit}`;
  const open = new Set(
    [...document.querySelectorAll("#candidates details[open]")].map((one) => one.dataset.number),
  );
  fill(
    byId("candidates"),
    plan.result.candidates.map((one, i) => {
      const shown = open.size ? open.has(String(i)) : i === (plan.chosen ?? plan.result.best ?? 0);
      return el(
        "details",
        { class: "panel candidate", "data-number": i, open: shown },
        el(
          "summary",
          {},
          el("strong", {}, one.described),
          el(
            "span",
            { class: "line" },
            verdict(one.verdict),
            plan.chosen === i ? el("span", {}, "chosen") : null,
          ),
        ),
        ...(one.problem
          ? [el("p", { class: "problem" }, `${one.problem.rule}. ${one.problem.remedy}`)]
          : candidate(one)),
      );
    }),
  );
  fill(
    byId("ground"),
    plan.result.checks.map((check) =>
      el(
        "li",
        { class: "reading-row" },
        el(
          "div",
          { class: "line" },
          el("span", {}, check.question),
          el("strong", {}, check.answer),
        ),
        el(
          "p",
          { class: "aside" },
          [check.detail, `${check.source} (${check.provenance})`].filter(Boolean).join(". "),
        ),
      ),
    ),
  );
}

function candidate(one) {
  const more = [
    ["Froude", one.flows.map((f) => known(f.froude, 2))],
    ["Pond filled", one.flows.map((f) => known(f.fill_min, 0, " min"))],
  ];
  const reasons = [
    ...one.flows.flatMap((f) => f.reasons.map((r) => `${f.name}: ${r}`)),
    ...one.check_reasons,
  ];
  return [
    el(
      "p",
      {},
      `Crest ${one.crest_rl_m.toFixed(3)} m, ${(one.crest_above_floor_m * 1000).toFixed(0)} mm over the floor; needed ${one.crest_needed_m.toFixed(3)} m.`,
    ),
    drawing(one.drawing),
    table(one.flows, more),
    reasons.length
      ? el(
          "ul",
          {},
          reasons.map((reason) => el("li", {}, reason)),
        )
      : null,
  ].filter(Boolean);
}

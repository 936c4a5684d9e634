/**
 * Plans of a site on the phone: pictures and tables as the office worked them out, and a look with
 * other figures from the tables of the candidates. Address: ?site=ID, &plan=ID shows one; fix=UUID
 * puts a refused request right.
 */
import { address, byId, el, fill, query, show } from "../../shared/dom.js";
import { drawing } from "../../shared/drawing.js";
import { siteTime } from "../../shared/format.js";
import { parseNumber, possible, spelled } from "../../shared/numbers.js";
import { uuid7 } from "../base/uuid7.js";
import { dressPlace, entryForm, notHere, placeOf } from "../shell/entry_form.js";
import { startPage } from "../shell/start.js";
import { judge, tailAt } from "../sums/plan.js";
import { watchNumber } from "../typed/number_ask.js";

const FIGURES = {
  q_min_l_s: "Least flow",
  q_mid_l_s: "Middle flow",
  q_max_l_s: "Greatest flow",
  weed_margin_mm: "Weed margin",
  crest_rl_m: "Crest",
  bank_rl_m: "Lowest bank",
};
const MAY_BE_EMPTY = new Set(["crest_rl_m", "bank_rl_m"]);
const SHAPES = { suits: "\u2713", "suits with care": "\u25b3", "does not suit": "\u2715" };
const form = byId("form");
let place = null; // {site, plan, personId, record, refusedId}
let dressed = null; // id of the plan whose figures stand in the form
const life = entryForm({
  title: () => `Plan of ${place.site.name}`,
  isHalf: ({ touched }) => touched,
  draw: again,
  noun: "plan",
});

async function open(ctx, pack) {
  if (life.isSaved && place?.refusedId) return undefined;
  const where = await placeOf(ctx, pack, ["plan"]);
  const { site, record } = where;
  if (!site) return notHere("site or plan", byId("place"));
  dressPlace(where);
  byId("place").textContent = `${site.name} \u00b7 ${site.code}`;
  const plans = site.plans ?? [];
  const plan = record
    ? nearest(plans, record.entry.body.inputs)
    : (plans.find((one) => one.id === Number(query().plan)) ?? null);
  place = { ...where, plan };
  const one = plan ?? record; // a request may be put right where the phone holds no plan to look at
  show(byId("plans"), !one);
  show(byId("one"), Boolean(one));
  if (!one) return list(plans);
  if (plan) drawPlan();
  if (dressed !== one.id) await dress(ctx, one.id);
  return again();
}

/** The plan that a request was made from: the one that shares most of its inputs. */
function nearest(plans, inputs) {
  const shared = (plan) =>
    Object.entries(plan.inputs).filter(([key, value]) => inputs[key] === value).length;
  return plans.reduce((best, plan) => (!best || shared(plan) > shared(best) ? plan : best), null);
}

function list(plans) {
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
            { class: "row", href: address("/field/plan", { site: place.site.id, plan: plan.id }) },
            el("strong", {}, plan.name),
            el("span", {}, chosenWords(plan)),
            el(
              "span",
              { class: "aside" },
              `${plan.by_name}, ${siteTime(plan.created_at, place.site.utc_offset_min)}`,
            ),
          ),
        ),
      ),
    ),
  );
}

function chosenWords(plan) {
  if (plan.chosen === null) return `${plan.result.candidates.length} candidates, none chosen yet`;
  const one = plan.result.candidates[plan.chosen];
  return `Chosen: ${one.described}, crest ${one.crest_rl_m.toFixed(3)} m`;
}

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

function table(flows, more = []) {
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

function drawPlan() {
  const { plan, site } = place;
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

function figuresOf(plan) {
  const flows = plan.result.flows_m3s.map((q) => spelled(Number((q * 1000).toPrecision(4))));
  return {
    ...plan.inputs,
    q_min_l_s: flows[0],
    q_mid_l_s: flows[1],
    q_max_l_s: flows[2],
    name: `${plan.name}, again`.slice(0, 80),
    note: "",
  };
}

async function dress(ctx, id) {
  const { plan, record } = place;
  dressed = id;
  const usual = record?.entry.body.inputs ?? figuresOf(plan);
  const typed = await life.open(ctx, place, {
    bareKey: record ? `plan:${record.id}` : `plan:${plan.id}`,
    start: () => ({ ...usual, id: uuid7() }),
  });
  for (const box of form.elements) {
    if (!box.name) continue;
    box.value = typed[box.name] ?? usual[box.name] ?? "";
    box.dispatchEvent(new Event("input")); // what is back may be asked about
  }
  life.rest();
}

const values = () =>
  Object.fromEntries(
    [...form.elements].filter((box) => box.name).map((box) => [box.name, box.value]),
  );

/** The figures as numbers, or the words of the first that is none. */
function figures() {
  const typed = values();
  const found = {};
  for (const [key, label] of Object.entries(FIGURES)) {
    const text = typed[key].trim();
    const limits = { high: key.endsWith("_m") ? 999 : Infinity };
    found[key] = text ? parseNumber(text, limits) : null;
    if (possible(text, limits).length > 1)
      return { problem: `${label}: ${text} can be two numbers. Tap which it is.` };
    if (found[key] === null && (text || !MAY_BE_EMPTY.has(key)))
      return { problem: `${label}: type a number.` };
  }
  const flows_m3s = [found.q_min_l_s, found.q_mid_l_s, found.q_max_l_s].map((q) => q / 1000);
  if (!(flows_m3s[0] > 0 && flows_m3s[0] < flows_m3s[1] && flows_m3s[1] < flows_m3s[2]))
    return { problem: "Flows go up from least to greatest." };
  if (found.weed_margin_mm < 0) return { problem: "Weed margin: 0 or more." };
  return { flows_m3s, ...found };
}

function again() {
  const found = figures();
  life.say(found.problem ?? "");
  if (found.problem) return fill(byId("again"));
  if (!place.plan) return fill(byId("again"));
  const { result } = place.plan;
  const tails_m = found.flows_m3s.map((q) =>
    tailAt(result.flows_m3s, result.tail_levels_m, result.tail_floor_rl_m, q),
  );
  const question = {
    flows_m3s: found.flows_m3s,
    tails_m,
    weed_m: found.weed_margin_mm / 1000,
    floor_rl_m: result.floor_rl_m,
    bank_rl_m: found.bank_rl_m,
    crest_rl_m: found.crest_rl_m,
    head_uncertainty_m: result.head_uncertainty_m,
  };
  const judged = result.candidates
    .filter((one) => one.table)
    .map((one) => [one, judge(one.table, question)]);
  return fill(
    byId("again"),
    judged.map(([one, said]) => {
      const words = said.flows.flatMap((f) =>
        f.words.map((word) => `${Number((f.discharge_m3s * 1000).toPrecision(3))} L/s: ${word}`),
      );
      return el(
        "section",
        { class: "panel" },
        el("h3", {}, one.described),
        el(
          "p",
          {},
          `Crest ${said.crest_rl_m.toFixed(3)} m; needed ${said.crest_needed_m.toFixed(3)} m.`,
        ),
        table(said.flows),
        words.length
          ? el(
              "ul",
              {},
              words.map((word) => el("li", {}, word)),
            )
          : el("p", {}, "Free at every flow, weed included; freeboard kept."),
      );
    }),
  );
}

for (const key of Object.keys(FIGURES)) {
  const box = form.elements[key];
  box
    ?.closest("label")
    ?.after(watchNumber(box, key.endsWith("_rl_m") ? "m" : key.endsWith("_mm") ? "mm" : "L/s"));
}

form.addEventListener("input", () => {
  byId("saved").textContent = "";
  Object.assign(life.values, values(), { touched: true, asked: false });
  life.typed();
});

function entry() {
  const now = new Date().toISOString();
  const { site, plan, record, personId } = place;
  life.values.id ??= uuid7(); // a draft of an earlier release has none
  return {
    id: life.values.id,
    kind: "plan",
    site_id: site.id,
    structure_id: null,
    visit_id: null,
    observed_at: now,
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: null,
    reason: null,
    body: { inputs: { ...(record?.entry.body.inputs ?? plan.inputs), ...values() } },
  };
}

form.addEventListener("submit", (event) =>
  life.save(event, {
    problems: () => {
      if (life.values.asked) return "This was asked already. Change a figure to ask again.";
      return figures().problem ?? (values().name.trim() ? "" : "Name for the office: fill it in.");
    },
    entry,
    done: () => {
      byId("saved").textContent =
        "Saved, on this phone. The office works it out when it arrives; it comes back with the sites.";
      Object.assign(life.values, { id: uuid7(), touched: false, asked: true });
    },
  }),
);

startPage(open);

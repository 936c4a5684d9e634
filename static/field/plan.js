/**
 * Plans of a site on the phone: pictures and tables as the office worked them out, and a look with
 * other figures from the tables of the candidates. Address: ?site=ID, &plan=ID shows one.
 */
import { address, byId, el, fill, query, show } from "./dom.js";
import { drawing } from "./drawing.js";
import { siteTime } from "./format.js";
import { watchNumber } from "./number_ask.js";
import { parseNumber, spelled } from "./numbers.js";
import { findSite } from "./pack.js";
import { judge, tailAt } from "./plan_sums.js";
import { setHalfFilled, startPage } from "./shell.js";
import { uuid7 } from "./uuid7.js";

const FIGURES = {
  q_min_l_s: "Least flow", q_mid_l_s: "Middle flow", q_max_l_s: "Greatest flow", weed_margin_mm: "Weed margin",
  crest_rl_m: "Crest", bank_rl_m: "Lowest bank",
};
const MAY_BE_EMPTY = new Set(["crest_rl_m", "bank_rl_m"]);
const SHAPES = { suits: "\u2713", "suits with care": "\u25b3", "does not suit": "\u2715" };
const form = byId("form");
let context = null;
let place = null; // {site, plan, personId}
let dressed = null; // id of the plan whose figures stand in the form
let draftKey = "";
let entryId = null; // of the plan in the form: a second tap is the same plan, a changed figure another
let savedId = null;

async function open(ctx, pack) {
  context = ctx;
  const site = findSite(pack, query().site);
  if (!site) {
    byId("title").textContent = "Not on this phone";
    byId("place").textContent = "This phone does not hold that site. Go back to the list.";
    return;
  }
  byId("back").href = `/field/site?id=${site.id}`;
  byId("back").lastChild.textContent = ` ${site.name}`;
  byId("place").textContent = `${site.name} \u00b7 ${site.code}`;
  const plans = site.plans ?? [];
  const plan = plans.find((one) => one.id === Number(query().plan)) ?? null;
  place = { site, plan, personId: pack.person.id };
  show(byId("plans"), !plan);
  show(byId("one"), Boolean(plan));
  if (!plan) return list(plans);
  drawPlan();
  if (dressed !== plan.id) await dress(ctx);
  again();
}

function list(plans) {
  if (!plans.length) {
    fill(byId("plans"), el("p", {}, "No plan of this site is on this phone. The first one is made in the office, on the page of the site."));
    return;
  }
  fill(byId("plans"), el("ul", { class: "rows" }, plans.map((plan) =>
    el("li", {}, el("a", { class: "row", href: address("/field/plan", { site: place.site.id, plan: plan.id }) },
      el("strong", {}, plan.name),
      el("span", {}, chosenWords(plan)),
      el("span", { class: "aside" }, `${plan.by_name}, ${siteTime(plan.created_at, place.site.utc_offset_min)}`))))));
}

function chosenWords(plan) {
  if (plan.chosen === null) return `${plan.result.candidates.length} candidates, none chosen yet`;
  const one = plan.result.candidates[plan.chosen];
  return `Chosen: ${one.described}, crest ${one.crest_rl_m.toFixed(3)} m`;
}

const verdict = (word) => el("span", { class: "verdict", "data-word": word }, `${SHAPES[word] ?? ""} ${word}`);
const known = (value, digits, unit = "") => (value === null || value === undefined ? "?" : `${value.toFixed(digits)}${unit}`);

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
  const head = el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Flow, L/s"), flows.map((f) => el("th", { scope: "col" }, `${Number((f.discharge_m3s * 1000).toPrecision(3))}`))));
  return el("table", { class: "flows" }, head, el("tbody", {}, [...rows(flows), ...more].map(([name, cells]) =>
    el("tr", {}, el("th", { scope: "row" }, name), cells.map((cell) => el("td", {}, cell))))));
}

function drawPlan() {
  const { plan, site } = place;
  document.title = `${plan.name} \u00b7 Sillbook`;
  byId("plan-name").textContent = plan.name;
  byId("plan-made").textContent = `${plan.by_name}, ${siteTime(plan.created_at, site.utc_offset_min)}. ${plan.result.permit}`;
  const open = new Set([...document.querySelectorAll("#candidates details[open]")].map((one) => one.dataset.number));
  fill(byId("candidates"), plan.result.candidates.map((one, i) => {
    const shown = open.size ? open.has(String(i)) : i === (plan.chosen ?? plan.result.best ?? 0);
    return el("details", { class: "panel candidate", "data-number": i, open: shown },
      el("summary", {}, el("strong", {}, one.described), el("span", { class: "line" }, verdict(one.verdict), plan.chosen === i ? el("span", {}, "chosen") : null)),
      ...(one.problem ? [el("p", { class: "problem" }, `${one.problem.rule}. ${one.problem.remedy}`)] : candidate(one)));
  }));
  fill(byId("ground"), plan.result.checks.map((check) => el("li", { class: "reading-row" },
    el("div", { class: "line" }, el("span", {}, check.question), el("strong", {}, check.answer)),
    el("p", { class: "aside" }, [check.detail, `${check.source} (${check.provenance})`].filter(Boolean).join(". ")))));
}

function candidate(one) {
  const more = [["Froude", one.flows.map((f) => known(f.froude, 2))], ["Pond filled", one.flows.map((f) => known(f.fill_min, 0, " min"))]];
  const reasons = [...one.flows.flatMap((f) => f.reasons.map((r) => `${f.name}: ${r}`)), ...one.check_reasons];
  return [
    el("p", {}, `Crest ${one.crest_rl_m.toFixed(3)} m, ${(one.crest_above_floor_m * 1000).toFixed(0)} mm over the floor; needed ${one.crest_needed_m.toFixed(3)} m.`),
    drawing(one.drawing),
    table(one.flows, more),
    reasons.length ? el("ul", {}, reasons.map((reason) => el("li", {}, reason))) : null,
  ].filter(Boolean);
}

async function dress(ctx) {
  const { plan } = place;
  dressed = plan.id;
  draftKey = `plan:${plan.id}`;
  const draft = await ctx.drafts.get(draftKey);
  const flows = plan.result.flows_m3s.map((q) => spelled(Number((q * 1000).toPrecision(4))));
  const usual = { ...plan.inputs, q_min_l_s: flows[0], q_mid_l_s: flows[1], q_max_l_s: flows[2], name: `${plan.name}, again`.slice(0, 80), note: "" };
  for (const box of form.elements) if (box.name) box.value = draft?.values[box.name] ?? usual[box.name] ?? "";
}

const values = () => Object.fromEntries([...form.elements].filter((box) => box.name).map((box) => [box.name, box.value]));

/** The figures as numbers, or the words of the first that is none. */
function figures() {
  const typed = values();
  const found = {};
  for (const [key, label] of Object.entries(FIGURES)) {
    const text = typed[key].trim();
    found[key] = text ? parseNumber(text, { high: key.endsWith("_m") ? 999 : Infinity }) : null;
    if (found[key] === null && (text || !MAY_BE_EMPTY.has(key))) return { problem: `${label}: type one plain number, or tap what it is.` };
  }
  const flows_m3s = [found.q_min_l_s, found.q_mid_l_s, found.q_max_l_s].map((q) => q / 1000);
  if (!(flows_m3s[0] > 0 && flows_m3s[0] < flows_m3s[1] && flows_m3s[1] < flows_m3s[2])) return { problem: "Flows go up from least to greatest." };
  if (found.weed_margin_mm < 0) return { problem: "Weed margin: 0 or more." };
  return { flows_m3s, ...found };
}

function again() {
  const found = figures();
  byId("problem").textContent = found.problem ?? "";
  if (found.problem) return fill(byId("again"));
  const { result } = place.plan;
  const tails_m = found.flows_m3s.map((q) => tailAt(result.flows_m3s, result.tail_levels_m, result.tail_floor_rl_m, q));
  const question = {
    flows_m3s: found.flows_m3s, tails_m, weed_m: found.weed_margin_mm / 1000, floor_rl_m: result.floor_rl_m,
    bank_rl_m: found.bank_rl_m, crest_rl_m: found.crest_rl_m, head_uncertainty_m: result.head_uncertainty_m,
  };
  const judged = result.candidates.filter((one) => one.table).map((one) => [one, judge(one.table, question)]);
  return fill(byId("again"), judged.map(([one, said]) => {
    const words = said.flows.flatMap((f) => f.words.map((word) => `${Number((f.discharge_m3s * 1000).toPrecision(3))} L/s: ${word}`));
    return el("section", { class: "panel" },
      el("h3", {}, one.described),
      el("p", {}, `Crest ${said.crest_rl_m.toFixed(3)} m; needed ${said.crest_needed_m.toFixed(3)} m.`),
      table(said.flows),
      words.length ? el("ul", {}, words.map((word) => el("li", {}, word))) : el("p", {}, "Free at every flow, weed included; freeboard kept."));
  }));
}

for (const key of Object.keys(FIGURES)) {
  const box = form.elements[key];
  box?.closest("label")?.after(watchNumber(box, key.endsWith("_rl_m") ? "m" : key.endsWith("_mm") ? "mm" : "L/s"));
}

form.addEventListener("input", () => {
  entryId = null;
  byId("saved").textContent = "";
  setHalfFilled(true);
  again();
  context.drafts.keep(draftKey, values(), { href: location.pathname + location.search, title: `Plan of ${place.site.name}` }).catch(failed);
});

function failed(error) {
  byId("problem").textContent = `Not kept on this phone: ${error.message}`;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const found = figures();
  const typed = values();
  if (found.problem || !typed.name.trim()) {
    byId("problem").textContent = found.problem ?? "Name for the office: fill it in.";
    return;
  }
  entryId ??= uuid7();
  if (savedId === entryId) return; // this very plan is saved
  byId("save").disabled = true;
  try {
    await context.drafts.settle();
    const now = new Date().toISOString();
    await context.outbox.hold({
      id: entryId, kind: "plan", site_id: place.site.id, structure_id: null, visit_id: null, observed_at: now,
      utc_offset_min: place.site.utc_offset_min, by: place.personId, saved_at: now, corrects: null, reason: null,
      body: { inputs: { ...place.plan.inputs, ...typed } },
    }, draftKey);
    savedId = entryId;
    setHalfFilled(false);
    byId("saved").textContent = "Saved, on this phone. The office works it out when it arrives; it comes back with the sites.";
    await context.showState();
    context.send();
  } catch (error) {
    failed(error);
  } finally {
    byId("save").disabled = false;
  }
});

startPage(open);

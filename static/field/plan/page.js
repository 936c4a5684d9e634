/**
 * Plans of a site on the phone: pictures and tables as the office worked them out, and a look with
 * other figures from the tables of the candidates. Address: ?site=ID, &plan=ID shows one; fix=UUID
 * puts a refused request right.
 */
import { byId, el, fill, query, show } from "../../shared/dom.js";
import { uuid7 } from "../base/uuid7.js";
import { dressPlace, entryForm, notHere, placeOf } from "../shell/entry_form.js";
import { startPage } from "../shell/start.js";
import { judge, tailAt } from "../sums/plan.js";
import { watchNumber } from "../typed/number_ask.js";
import { drawPlan, table } from "./candidates.js";
import { FIGURES, figuresOf, readFigures } from "./figures.js";
import { list } from "./list.js";

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
  if (!one) return list(plans, site);
  if (plan) drawPlan(place);
  if (dressed !== one.id) await dress(ctx, one.id);
  return again();
}

/** The plan that a request was made from: the one that shares most of its inputs. */
function nearest(plans, inputs) {
  const shared = (plan) =>
    Object.entries(plan.inputs).filter(([key, value]) => inputs[key] === value).length;
  return plans.reduce((best, plan) => (!best || shared(plan) > shared(best) ? plan : best), null);
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

function again() {
  const found = readFigures(values());
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
      return (
        readFigures(values()).problem ??
        (values().name.trim() ? "" : "Name for the office: fill it in.")
      );
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

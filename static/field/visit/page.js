/**
 * A visit: cautions before the water, conditions, then the pair of readings as found and as left.
 *
 * Address: ?site=ID starts one, ?visit=UUID goes on with it, ?correct=UUID changes what was said,
 * ?fix=UUID puts a refused one right. The
 * visit is saved when it starts, so that its readings can cite it; a later change is a correction
 * with a reason. Put right, it keeps its id: the readings made meanwhile cite that.
 */
import { byId, el, query, show } from "../../shared/dom.js";
import { toLocalBox } from "../../shared/format.js";
import { uuid7 } from "../base/uuid7.js";
import { visits } from "../keep/recent.js";
import { standingHere } from "../keep/standing.js";
import { dressPlace, entryForm, fillBoxes, notHere, placeOf } from "../shell/entry_form.js";
import { startPage } from "../shell/start.js";
import { emptyVisit, isHalfFilled, visitEntry, visitProblem, visitValues } from "./entry.js";
import { drawThread } from "./view.js";

const form = byId("form");
let values = null;
let place = null; // {site, personId, visit, record, corrects, refusedId}
const life = entryForm({
  title: () => `Visit, ${place.site.name}`,
  isHalf: isHalfFilled,
  boxOf: ([field]) => (field === "cautions_read" ? byId("cautions") : null),
});

async function draw(ctx, pack) {
  if (life.isSaved) return undefined;
  const records = await ctx.outbox.all();
  const asked = visitAsked(records);
  const held = asked.visit ? records.find((record) => record.id === asked.visit) : null;
  const where = await placeOf(ctx, pack, ["visit"], {
    ...asked,
    site: held?.entry.site_id ?? asked.site,
  });
  if (!where.site || (asked.visit && !held)) return values ? undefined : notHere("visit or site");
  const stand = standingHere(pack, records);
  const first = held?.id ?? firstOf(where.corrects, records);
  const visit = first ? visits(where.site.id, records, stand).find(({ id }) => id === first) : null;
  place = { ...where, visit };
  dressPage();
  if (visit) drawThread(place, records, pack, stand, await ctx.drafts.all());
  if (values) return undefined;
  values = await life.open(ctx, place, {
    bareKey: asked.fix
      ? `visit-fix:${asked.fix}`
      : held
        ? `visit-change:${held.id}`
        : `visit:${place.site.id}`,
    start: () => start(visit),
  });
  dressForm();
  return life.rest();
}

/** A change of a visit is made on the page of the visit itself. */
function visitAsked(records) {
  const { correct, ...asked } = query();
  return correct ? { ...asked, visit: firstOf(correct, records) } : asked;
}

/** The visit at the beginning of a line of changes. */
function firstOf(id, records) {
  const line = new Set();
  for (let at = id; at && !line.has(at); at = records.find((one) => one.id === at)?.entry.corrects)
    line.add(at);
  return [...line].at(-1) ?? null;
}

function start(visit) {
  const { record, corrects } = place;
  if (!record) return visit ? visitValues(visit.latest.entry, uuid7()) : emptyVisit(uuid7());
  const keepsId = !corrects && record.refusal.field !== "id"; // else the office holds another under it
  return visitValues(record.entry, keepsId ? record.id : uuid7());
}

function dressPage() {
  const { site, visit } = place;
  byId("title").textContent = `Visit, ${site.name}`;
  document.title = `Visit, ${site.name} \u00b7 Sillbook`;
  dressPlace({ site, visitId: null });
  byId("site-hazards").textContent = `Here: ${site.hazards}`;
  show(byId("site-hazards"), Boolean(site.hazards));
  byId("save").textContent = place.record
    ? "Save the visit"
    : visit
      ? "Save the change"
      : "Start the visit";
  show(byId("pair"), Boolean(visit));
}

function dressForm() {
  fillBoxes(form, values);
  if (place.visit) {
    const change = el(
      "details",
      { id: "change", open: isHalfFilled(values) || Boolean(place.record ?? query().correct) },
      el("summary", {}, "End the visit, or change what was said"),
    );
    form.before(change);
    change.append(form);
    show(byId("reason-row"), true);
    show(byId("closing"), true);
    show(byId("cautions"), !values.cautions_read); // read before the water, when it began
    form.prepend(byId("closing")); // what is left to say comes first
  }
  form.addEventListener("input", typed);
  form.addEventListener("submit", save);
  byId("ended-now").addEventListener("click", () => {
    form.elements.ended.value = toLocalBox(new Date().toISOString(), place.site.utc_offset_min);
    typed();
  });
}

const ticked = (name) =>
  [...form.elements[name]].filter((box) => box.checked).map((box) => box.value);

function typed() {
  for (const name of ["purpose", "observers", "note", "reason", "ended", "hours"])
    values[name] = form.elements[name].value;
  values.cautions_read = form.elements.cautions_read.checked;
  values.conditions = ticked("conditions");
  values.done = ticked("done");
  values.touched = true;
  life.typed();
}

function save(event) {
  return life.save(event, {
    problems: () => visitProblem(values, { ...place, now: new Date().toISOString() }),
    entry: () => visitEntry(values, { ...place, now: new Date().toISOString() }),
    earlier: () => place.visit?.latest ?? place.record,
    done: (entry) => location.replace(`/field/visit?visit=${place.visit?.id ?? entry.id}`),
  });
}

startPage(draw);

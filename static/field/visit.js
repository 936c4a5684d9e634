/**
 * A visit: cautions before the water, conditions, then the pair of readings as found and as left.
 *
 * Address: ?site=ID starts one, ?visit=UUID goes on with it. The visit is saved when it starts, so
 * that its readings can cite it; a later change is a correction with a reason.
 */
import { address, byId, el, fill, query, show } from "./dom.js";
import { dischargeLine, siteTime } from "./format.js";
import { workLinks } from "./levels_links.js";
import { findSite } from "./pack.js";
import { nameIn, readings, reviewedIds, visits } from "./recent.js";
import { setHalfFilled, startPage } from "./shell.js";
import { standingHere } from "./standing.js";
import { stateMark, stateWord } from "./states.js";
import { emptyVisit, visitEntry, visitValues } from "./visit_entry.js";
import { uuid7 } from "./uuid7.js";

const form = byId("form");
let values = null;
let place = null; // {site, personId, visit}
let context = null;
let draftKey = "";

async function draw(ctx, pack) {
  context = ctx;
  const asked = query();
  const records = await ctx.outbox.all();
  const held = asked.visit ? records.find((record) => record.id === asked.visit) : null;
  const site = findSite(pack, held?.entry.site_id ?? asked.site);
  if (!site || (asked.visit && !held)) {
    byId("title").textContent = "Not on this phone";
    fill(form, el("p", {}, "This phone does not hold that visit or site. Go back to the sites."));
    return;
  }
  const stand = standingHere(pack, records);
  const visit = held ? visits(site.id, records, stand).find(({ id }) => id === held.id) : null;
  place = { site, personId: pack.person.id, visit };
  draftKey = held ? `visit-change:${held.id}` : `visit:${site.id}`;
  dressPlace();
  if (visit) drawPair(records, pack, stand);
  if (values) return;
  const draft = await ctx.drafts.get(draftKey);
  values = draft?.values ?? (visit ? visitValues(visit.latest.entry, uuid7()) : emptyVisit(uuid7()));
  dressForm(Boolean(draft));
}

function dressPlace() {
  const { site, visit } = place;
  byId("title").textContent = site.name;
  byId("back").href = `/field/site?id=${site.id}`;
  byId("back").lastChild.textContent = ` ${site.name}`;
  byId("site-hazards").textContent = `Here: ${site.hazards}`;
  show(byId("site-hazards"), Boolean(site.hazards));
  byId("save").textContent = visit ? "Save the change" : "Start the visit";
  show(byId("pair"), Boolean(visit));
}

function dressForm(restored) {
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements[name];
    if (typeof value === "string" && field) field.value = value;
  }
  form.elements.cautions_read.checked = values.cautions_read;
  for (const box of form.elements.conditions) box.checked = values.conditions.includes(box.value);
  if (place.visit) {
    const change = el("details", { id: "change", open: restored }, el("summary", {}, "Change conditions or note"));
    form.before(change);
    change.append(form);
    show(byId("reason-row"), true);
  }
  form.addEventListener("input", typed);
  form.addEventListener("submit", save);
}

function typed() {
  for (const name of ["purpose", "observers", "note", "reason"]) values[name] = form.elements[name].value;
  values.cautions_read = form.elements.cautions_read.checked;
  values.conditions = [...form.elements.conditions].filter((box) => box.checked).map((box) => box.value);
  show(byId("problem"), false);
  setHalfFilled(true);
  const page = { href: location.pathname + location.search, title: `Visit, ${place.site.name}` };
  context.drafts.keep(draftKey, structuredClone(values), page)
    .catch((error) => say(`This phone cannot keep the draft: ${error.message}`));
}

function say(words) {
  byId("problem").textContent = words;
  show(byId("problem"), Boolean(words));
}

async function save(event) {
  event.preventDefault();
  if (!values.cautions_read) return say("Read the cautions and look at the water first, then tick the box.");
  if (place.visit && !values.reason.trim()) return say("Say why the visit is changed.");
  byId("save").disabled = true;
  try {
    const entry = visitEntry(values, { ...place, now: new Date().toISOString() });
    await context.drafts.settle();
    await context.outbox.hold(entry, draftKey);
    setHalfFilled(false);
    context.send();
    location.replace(`/field/visit?visit=${place.visit?.id ?? entry.id}`);
  } catch (error) {
    byId("save").disabled = false;
    say(`NOT saved: ${error.message}. The form is still here.`);
  }
  return undefined;
}

function oneReading({ discharge_m3s, uncertainty_pct, flow, state }) {
  return el("div", {},
    el("p", {}, el("strong", {}, dischargeLine(discharge_m3s, uncertainty_pct))),
    el("p", {}, flow),
    stateMark(state));
}

/** As found and as left for every structure: always a pair, even when nothing changed. */
function drawPair(records, pack, stand) {
  const { site, visit } = place;
  const all = readings(site, records, reviewedIds(pack), nameIn(pack), stand)
    .filter((one) => one.record?.entry.visit_id === visit.id);
  const { body } = visit.latest.entry;
  fill(byId("pair"),
    el("p", { class: "line" }, stateMark(stateWord(visit.record)),
      el("span", {}, `Started ${siteTime(visit.record.entry.observed_at, site.utc_offset_min)}`)),
    body.conditions.length ? el("p", {}, `Seen: ${body.conditions.join(", ")}`) : null,
    body.note ? el("p", {}, body.note) : null,
    site.structures.map((structure) => structurePair(structure, all.filter((one) => one.structure_id === structure.id))));
}

function structurePair(structure, all) {
  const link = (occasion, words, kind) => el("a", {
    class: kind, href: address("/field/reading", { structure: structure.id, visit: place.visit.id, occasion }),
  }, words);
  const side = (occasion, words) => {
    const read = all.filter((one) => one.occasion === occasion);
    return el("div", { class: "side" },
      el("h3", {}, words),
      read.length ? read.map(oneReading) : el("p", { class: "aside" }, "not read yet"),
      read.length ? link(occasion, "Read again", "button") : link(occasion, `Read ${words}`, "button main"));
  };
  const during = all.filter((one) => one.occasion === "during").length;
  const found = all.some((one) => one.occasion === "as_found");
  const left = all.some((one) => one.occasion === "as_left");
  return el("section", { class: "panel" },
    el("h2", {}, structure.name),
    el("div", { class: "sides" }, side("as_found", "as found"), side("as_left", "as left")),
    during ? el("p", { class: "aside" }, `${during} more in between`) : null,
    el("p", {}, el("a", { class: "button", href: address("/field/gauging", { structure: structure.id, visit: place.visit.id }) }, "Check gauging")),
    workLinks(structure, place.visit.id),
    found && !left ? el("p", {}, "Read as left before you go, also when nothing changed.") : null);
}

startPage(draw);

/**
 * A check gauging on the phone: choose the method, read the staff, measure, read it again, and see
 * discharge and verdict before leaving.
 *
 * Address: ?structure=ID with visit=UUID, or correct=UUID to correct a stored gauging, or fix=UUID
 * to put a refused one right.
 */
import { address, byId, el, fill, query, show } from "./dom.js";
import { dischargeLine, offsetWords, siteTime, toLocalBox } from "./format.js";
import { emptyGauging, gaugingEntry, isHalfFilled, readGauging, valuesOf } from "./gauging_entry.js";
import { drawHeads, tellHeads } from "./gauging_heads.js";
import { METHODS, methodOf } from "./gauging_methods.js";
import { drawDock, drawResult, verdictMark } from "./gauging_result.js";
import { findStructure } from "./pack.js";
import { drawAsk, usualStaff } from "./plausible.js";
import { setHalfFilled, startPage } from "./shell.js";
import { stateMark } from "./states.js";
import { uuid7 } from "./uuid7.js";

const asked = query();
const form = byId("form");
let values = null;
let place = null; // {site, structure, visitId, personId, corrects, refusedId, pack}
let context = null;
let draftKey = "";
let read = null;
let drawn = null; // what the method's form gave back, to tell it the newest sums

const HALF = "There is no whole discharge yet: see Result. Put it right, or keep what was observed as it is.";

const nowIso = () => new Date().toISOString();
const PLAIN = ["tail_text", "observers", "instrument", "serial", "calibrated", "tolerance", "start", "end", "time_reason", "note", "reason"];

async function open(ctx, pack) {
  if (values) {
    Object.assign(place, findStructure(pack, place.structure.id), { personId: pack.person.id, pack });
    return update();
  }
  context = ctx;
  const earlier = asked.correct ?? asked.fix;
  const record = earlier ? await ctx.outbox.get(earlier) : null;
  const { site, structure } = findStructure(pack, record?.entry.structure_id ?? asked.structure);
  if (!structure || (earlier && record?.entry.kind !== "check_gauging")) {
    byId("title").textContent = "Not on this phone";
    return fill(form, el("p", {}, "This phone does not hold that structure or gauging. Go back to the sites."));
  }
  place = {
    site, structure, pack, personId: pack.person.id, visitId: record ? record.entry.visit_id : asked.visit,
    corrects: asked.correct ?? record?.entry.corrects ?? null, refusedId: asked.fix ?? null,
  };
  const toBox = (iso) => toLocalBox(iso, site.utc_offset_min);
  draftKey = `gauging:${structure.id}:${earlier ?? asked.visit ?? "alone"}:${asked.fix ? "fix" : asked.correct ? "correct" : "new"}`;
  const draft = await ctx.drafts.get(draftKey);
  const start = record ? valuesOf(record.entry, uuid7(), toBox) : emptyGauging(uuid7(), site.head_unit);
  if (asked.fix) start.reason = record.entry.reason ?? "";
  values = draft?.values ?? start;
  dress(Boolean(draft), record);
  listen();
  drawMethod();
  return update();
}

function dress(restored, record) {
  const { site, structure, visitId } = place;
  byId("title").textContent = "Check gauging";
  byId("structure").textContent = `${site.name} \u00b7 ${structure.name} \u00b7 ${structure.described}`;
  byId("back").href = address(visitId ? "/field/visit" : "/field/site", { id: visitId ? null : site.id, visit: visitId });
  byId("back").lastChild.textContent = visitId ? " Visit" : ` ${site.name}`;
  document.querySelectorAll(".zone").forEach((node) => (node.textContent = `(${offsetWords(site.utc_offset_min)})`));
  show(byId("reason-row"), Boolean(place.corrects));
  const said = record
    ? [asked.fix ? `Not accepted: ${record.refusal.rule}. ${record.refusal.remedy}` : "This makes a correction. The first record stays as it was."]
    : restored ? ["Your half-filled gauging is back. ", el("button", { type: "button", onclick: discard }, "Discard it")] : null;
  if (said) byId("structure").before(el("p", { class: "notice", id: "restored" }, said));
  for (const name of PLAIN) form.elements[name].value = values[name];
  for (const box of form.elements.tail) box.checked = box.value === values.tail;
  for (const box of form.elements.control) box.checked = values.control.includes(box.value);
  form.elements.cautions_read.checked = values.cautions_read;
  if (!structure.tailwater_gauge) form.querySelector('[name="tail"][value="read"]').closest("label").hidden = true;
  byId("times").open = Boolean(values.start || values.end);
  fill(byId("methods"), METHODS.map((method) => el("button", { type: "button", class: "method", "data-method": method.key, onclick: () => choose(method.key) },
    el("strong", {}, method.title), el("span", {}, method.hint))));
  drawHeads(values, typedHead);
  drawEarlier();
}

/** The last gaugings here, from the office, for comparison on the spot. */
function drawEarlier() {
  const mine = (place.site.check_gaugings ?? []).filter((one) => one.structure_id === place.structure.id);
  show(byId("earlier"), mine.length > 0);
  fill(byId("earlier-rows"), mine.map((one) => el("li", { class: "reading-row" },
    el("div", { class: "line" }, el("strong", {}, dischargeLine(one.discharge_m3s, one.uncertainty_pct)), verdictMark(one.word)),
    el("p", { class: "aside" }, [siteTime(one.started_at, place.site.utc_offset_min).slice(0, 10), one.method, one.by_name,
      one.deviation_pct === null ? null : `${one.deviation_pct > 0 ? "+" : ""}${one.deviation_pct.toFixed(1)} %`].filter(Boolean).join(" \u00b7 ")))));
}

function choose(key) {
  values.method = key;
  const method = methodOf(key);
  values.parts[key] ??= method.empty();
  drawMethod();
  typed();
  byId("work").scrollIntoView({ block: "start" });
}

function drawMethod() {
  const method = methodOf(values.method);
  show(byId("choose"), !method);
  show(byId("work"), Boolean(method));
  show(byId("dock"), Boolean(method));
  drawn = null;
  if (!method) return;
  values.parts[method.key] ??= method.empty();
  byId("method-title").textContent = method.title;
  show(byId("wading"), method.wading);
  drawn = method.draw(byId("method-form"), values.parts[method.key], { changed: typed, pack: place.pack, ratedFlow: () => read?.atHead.rated?.discharge_m3s ?? null }) ?? null;
}

function listen() {
  form.addEventListener("input", (event) => {
    const { name, value, type, checked } = event.target;
    if (name === "control") values.control = [...form.elements.control].filter((box) => box.checked).map((box) => box.value);
    else if (name === "cautions_read") values.cautions_read = checked;
    else if (name === "tail") values.tail = checked ? value : values.tail;
    else if (PLAIN.includes(name) && type !== "radio") values[name] = value;
    else return; // the method's own boxes and the staff boxes speak for themselves
    if (name === "tail_text" && value.trim()) values.tail = form.elements.tail.value = "read";
    typed();
  });
  form.addEventListener("submit", (event) => save(event, false));
  byId("save-anyway").addEventListener("click", (event) => save(event, true));
  byId("change-method").addEventListener("click", () => {
    values.method = "";
    drawMethod();
    typed();
  });
  byId("head-more").addEventListener("click", () => {
    values.heads.push({ text: "", at: null });
    drawHeads(values, typedHead);
    byId("head-later").lastElementChild.querySelector("input").focus();
    typed();
  });
}

function typedHead(index, text) {
  const box = values.heads[index];
  box.text = text;
  if (!text.trim()) box.at = null;
  else if (!place.corrects && !place.refusedId) box.at ??= nowIso();
  typed();
}

/** Something changed: keep the draft, then show what it means. */
function typed() {
  const half = isHalfFilled(values) || Boolean(values.method);
  setHalfFilled(isHalfFilled(values));
  const page = { href: location.pathname + location.search, title: `Check gauging, ${place.site.name}` };
  const kept = half ? context.drafts.keep(draftKey, structuredClone(values), page) : context.drafts.discard(draftKey);
  kept.catch((error) => say(`This phone cannot keep the draft: ${error.message}. Write the figures on paper too.`));
  say("");
  update();
}

function say(words) {
  byId("problem").textContent = words;
  show(byId("problem"), Boolean(words));
}

function update() {
  const { site, structure, pack } = place;
  read = readGauging(values, { structure, pack, highest: usualStaff(structure, site, nowIso()), utcOffsetMin: site.utc_offset_min, now: nowIso() });
  const agree = (index, text) => {
    values.heads[index].text = form.elements[`head_${index}`].value = text;
    typed();
  };
  const agreeTail = (text) => {
    values.tail_text = form.elements.tail_text.value = text;
    typed();
  };
  const kept = (text) => (values.kept.push(text), text);
  tellHeads(values, read.boxes, { agree, keep: (index, text) => agree(index, kept(text)), utcOffsetMin: site.utc_offset_min });
  show(byId("tail-row"), structure.tailwater_gauge && values.tail === "read");
  byId("tail-unit").textContent = values.unit;
  drawAsk(byId("tail-ask"), read.tail, { agree: agreeTail, keep: (text) => agreeTail(kept(text)) });
  const method = methodOf(values.method);
  drawn?.tell(read.gauging, read.problem);
  drawResult(read, { wadingWords: method?.wadingWords?.(read.gauging) ?? null });
  if (method) method.picture(byId("picture"), read.observed, read.gauging);
  drawDock(read);
  if (!(read.problem ?? read.unfinished)) show(byId("save-anyway"), false);
  setHalfFilled(isHalfFilled(values));
}

async function discard() {
  await context.drafts.discard(draftKey);
  location.reload();
}

function standsInTheWay(anyway) {
  const method = methodOf(values.method);
  if (read.blocking.length) return read.blocking[0];
  if (!method.begun(values.parts[method.key])) return "Nothing is measured yet.";
  if (method.wading && !values.cautions_read) return "Read the caution and look at the water first, then tick the box.";
  if (place.corrects && !values.reason.trim()) return "Say why it is corrected.";
  return !anyway && (read.problem ?? read.unfinished) ? HALF : "";
}

async function save(event, anyway) {
  event.preventDefault();
  update();
  const problem = standsInTheWay(anyway);
  say(problem);
  // only once somebody has asked to save and been told what is wrong
  show(byId("save-anyway"), !anyway && problem === HALF);
  if (problem) return;
  for (const id of ["save", "save-anyway"]) byId(id).disabled = true;
  try {
    const entry = gaugingEntry(values, read, { ...place, now: nowIso() });
    await context.drafts.settle();
    if (place.refusedId) await context.outbox.replace(place.refusedId, entry, draftKey);
    else await context.outbox.hold(entry, draftKey);
    setHalfFilled(false);
    await saved(entry);
  } catch (error) {
    for (const id of ["save", "save-anyway"]) byId(id).disabled = false;
    say(`NOT saved: ${error.message}. The form is still here; write the figures on paper too.`);
  }
}

async function saved(entry) {
  const { site, structure, visitId } = place;
  const { preview } = entry.body;
  show(form, false);
  fill(byId("saved"),
    el("p", { class: "big" }, stateMark("on this phone")),
    el("p", {}, preview.discharge_m3s === null ? `Kept without a discharge. ${preview.problem ?? ""}` : `${dischargeLine(preview.discharge_m3s, preview.uncertainty_pct)}.`),
    preview.discharge_m3s === null ? null : el("p", {}, verdictMark(preview.word), `: ${preview.reason}.`),
    preview.word === "fails" ? el("p", {}, "One gauging never changes a rating. Look at the crest, the gauge zero and the tail, then gauge again.") : null,
    el("p", {}, `Saved at ${siteTime(entry.saved_at, site.utc_offset_min).slice(11)}. The office works it out again.`),
    el("p", {}, el("a", { class: "button", href: address("/field/gauging", { structure: structure.id, visit: visitId }) }, "Another gauging")),
    el("p", {}, el("a", { class: "button main", href: byId("back").href }, visitId ? "Back to the visit" : `Back to ${site.name}`)));
  show(byId("saved"), true);
  byId("restored")?.remove();
  byId("saved").querySelector("a").focus({ preventScroll: true });
  window.scrollTo(0, 0);
  await context.showState();
  context.send();
}

startPage(open);

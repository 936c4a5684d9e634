/**
 * The head reading: boxes as typed, what they mean at once, and "Save" to this phone.
 *
 * Address: ?structure=ID with visit=UUID and occasion=…, or correct=UUID to correct a stored
 * reading, or fix=UUID to put a refused one right.
 */
import { assess, previewBody } from "./assess.js";
import { address, byId, el, fill, query, show } from "./dom.js";
import { siteTime, toLocalBox, offsetWords } from "./format.js";
import { findStructure } from "./pack.js";
import { usualStaff } from "./plausible.js";
import { emptyReading, isHalfFilled, readForm, readingEntry, valuesOf } from "./reading_entry.js";
import { drawBoxes, drawDischarge, drawSums, drawTail } from "./reading_view.js";
import { setHalfFilled, startPage } from "./shell.js";
import { stateMark } from "./states.js";
import { uuid7 } from "./uuid7.js";

const asked = query();
const form = byId("form");
let values = null;
let place = null; // {site, structure, visitId, personId, corrects, refusedId}
let context = null;
let draftKey = "";
let understood = null;
let assessed = null;
let isSaved = false; // the form is done with; what is drawn again must not wake it

const nowIso = () => new Date().toISOString();

async function open(ctx, pack) {
  if (isSaved) return undefined;
  if (values) {
    // the pack is newer: keep what is typed, assess it by the newer ratings
    Object.assign(place, findStructure(pack, place.structure.id), { personId: pack.person.id });
    return update();
  }
  context = ctx;
  const earlier = asked.correct ?? asked.fix;
  const record = earlier ? await ctx.outbox.get(earlier) : null;
  const { site, structure } = findStructure(pack, record?.entry.structure_id ?? asked.structure);
  if (!structure || (earlier && !record)) {
    byId("title").textContent = "Not on this phone";
    fill(form, el("p", {}, "This phone does not hold it. Go back to the sites."));
    return undefined;
  }
  place = {
    site, structure, personId: pack.person.id,
    visitId: record ? record.entry.visit_id : asked.visit,
    corrects: asked.correct ?? record?.entry.corrects ?? null,
    refusedId: asked.fix ?? null,
  };
  const toBox = (iso) => toLocalBox(iso, site.utc_offset_min);
  const what = asked.fix ? "fix" : asked.correct ? "correct" : (asked.occasion ?? "as_found");
  draftKey = `reading:${structure.id}:${earlier ?? asked.visit ?? "alone"}:${what}`;
  const draft = await ctx.drafts.get(draftKey);
  const start = record
    ? valuesOf(record.entry, uuid7(), toBox)
    : emptyReading(uuid7(), site.head_unit, asked.occasion ?? "as_found");
  if (asked.fix) start.reason = record.entry.reason ?? "";
  values = draft?.values ?? start;
  dress(Boolean(draft), record);
  listen();
  return update();
}

/** Put site, names and the values into the page, once. */
function dress(restored, record) {
  const { site, structure } = place;
  byId("title").textContent = site.name;
  byId("structure").textContent = `${structure.name} \u00b7 ${structure.described}`;
  byId("back").href = place.visitId ? `/field/visit?visit=${place.visitId}` : `/field/site?id=${site.id}`;
  byId("back").lastChild.textContent = place.visitId ? " Visit" : ` ${site.name}`;
  document.querySelectorAll(".zone").forEach((node) => (node.textContent = `(${offsetWords(site.utc_offset_min)})`));
  show(byId("reason-row"), Boolean(place.corrects));
  byId("more").textContent = "Read again";
  if (record) {
    byId("structure").before(el("p", { class: "notice" }, asked.fix
      ? `Not accepted: ${record.refusal.rule}. ${record.refusal.remedy}`
      : "This makes a correction. The first record stays as it was."));
  } else if (restored) {
    byId("structure").before(el("p", { class: "notice", id: "restored" }, "Your half-filled form is back. ",
      el("button", { type: "button", onclick: discard }, "Discard it")));
  }
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements[name];
    if (typeof value === "string" && field) field.value = value;
  }
  for (const box of form.elements.conditions) box.checked = values.conditions.includes(box.value);
  if (values.time) show(byId("time-rows"), true);
  if (!structure.tailwater_gauge) form.querySelector('[value="read"]').closest("label").hidden = true;
  drawBoxes(values, typedHead);
}

function listen() {
  form.addEventListener("input", (event) => {
    const { name, value, type } = event.target;
    if (name === "conditions") values.conditions = ticked(form.elements.conditions);
    else if (name && name !== "head" && (type !== "radio" || event.target.checked)) values[name] = value;
    if (name === "tail_text" && value.trim()) form.elements.tail.value = values.tail = "read";
    typed();
  });
  form.addEventListener("submit", save);
  byId("more").addEventListener("click", () => {
    if (values.heads.length >= 10) return;
    values.heads.push({ text: "", at: null });
    drawBoxes(values, typedHead);
    byId("heads").lastElementChild.querySelector("input").focus();
    typed();
  });
  byId("unit").addEventListener("click", () => {
    values.unit = values.unit === "mm" ? "m" : "mm";
    typed();
  });
  byId("time-edit").addEventListener("click", () => {
    show(byId("time-rows"), true);
    values.time ||= toLocalBox(nowIso(), place.site.utc_offset_min);
    form.elements.time.value = values.time;
    form.elements.time.focus();
    typed();
  });
}

const ticked = (boxes) => [...boxes].filter((box) => box.checked).map((box) => box.value);

function typedHead(index, text) {
  const box = values.heads[index];
  box.text = text;
  if (!text.trim()) box.at = null;
  else if (!place.corrects && !place.refusedId) box.at ??= nowIso();
}

/** Something changed: keep the draft, then show what it means. */
function typed() {
  const half = isHalfFilled(values);
  setHalfFilled(half);
  if (half) context.drafts.keep(draftKey, structuredClone(values), draftPage()).catch(cannotKeep);
  else context.drafts.discard(draftKey).catch(cannotKeep);
  show(byId("problem"), false);
  update();
}

function draftPage() {
  return { href: location.pathname + location.search, title: `Head reading, ${place.site.name}` };
}

function cannotKeep(error) {
  say(`This phone cannot keep the draft: ${error.message}. Write the figures on paper too.`);
}

function say(words) {
  byId("problem").textContent = words;
  show(byId("problem"), Boolean(words));
}

function update() {
  const { site, structure } = place;
  understood = readForm(values, { usual: usualStaff(structure, site, nowIso()), utcOffsetMin: site.utc_offset_min, now: nowIso() });
  assessed = assess(understood.reading, structure);
  const answersFor = (index) => {
    const put = (text, kept) => {
      if (index === "tail") values.tail_text = form.elements.tail_text.value = text;
      else values.heads[index].text = text;
      if (kept) values.kept.push(text);
      drawBoxes(values, typedHead);
      typed();
    };
    const dry = () => {
      values.dry = true;
      put(values.heads[index].text, true);
    };
    return { agree: put, keep: (text) => put(text, true), dry };
  };
  drawSums({ values, understood, assessed, answersFor });
  drawTail({ values, understood, assessed, answersFor, gauge: structure.tailwater_gauge });
  drawDischarge(assessed);
  const time = siteTime(understood.reading.observed_at, site.utc_offset_min);
  byId("time-now").textContent = values.time ? "" : `Time ${time} (${offsetWords(site.utc_offset_min)})`;
  show(byId("time-edit"), !values.time);
  setHalfFilled(isHalfFilled(values));
}

async function discard() {
  await context.drafts.discard(draftKey);
  location.reload();
}

async function save(event) {
  event.preventDefault();
  update();
  const problem = understood.problems[0] ?? (place.corrects && !values.reason.trim() ? "Say why it is corrected." : "");
  say(problem);
  if (problem) return document.querySelector(".ask button")?.scrollIntoView();
  byId("save").disabled = true;
  try {
    const entry = readingEntry(values, understood.reading, { ...place, now: nowIso() }, previewBody(assessed));
    await context.drafts.settle();
    if (place.refusedId) await context.outbox.replace(place.refusedId, entry, draftKey);
    else await context.outbox.hold(entry, draftKey);
    isSaved = true;
    setHalfFilled(false);
    await saved(entry);
  } catch (error) {
    byId("save").disabled = false;
    say(`NOT saved: ${error.message}. The form is still here; write the figures on paper too.`);
  }
}

async function saved(entry) {
  const { site, structure, visitId } = place;
  show(form, false);
  const at = siteTime(entry.saved_at, site.utc_offset_min).slice(11);
  const again = (occasion) => address("/field/reading", { structure: structure.id, visit: visitId, occasion });
  fill(byId("saved"),
    el("p", { class: "big" }, stateMark("on this phone")),
    el("p", {}, `${byId("discharge").dataset.line || "Kept without a discharge."} Saved at ${at}.`),
    entry.body.occasion === "as_found" && !asked.correct
      ? el("p", {}, el("a", { class: "button", href: again("as_left") }, "Read as left"))
      : null,
    el("p", {}, el("a", { class: "button", href: again("during") }, "Another reading")),
    el("p", {}, el("a", { class: "button main", href: byId("back").href }, visitId ? "Back to the visit" : `Back to ${site.name}`)));
  show(byId("saved"), true);
  byId("restored")?.remove();
  byId("saved").querySelector("a").focus({ preventScroll: true });
  window.scrollTo(0, 0);
  await context.showState();
  context.send();
}

startPage(open);

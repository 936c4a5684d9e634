/**
 * The head reading: boxes as typed, what they mean at once, and "Save" to this phone.
 *
 * Address: ?structure=ID with visit=UUID and occasion=…, or correct=UUID to correct a stored
 * reading, or fix=UUID to put a refused one right.
 */

import { address, byId, el, query, show } from "../../shared/dom.js";
import { offsetWords, siteTime, toLocalBox } from "../../shared/format.js";
import { stateMark } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
import { findStructure } from "../keep/pack.js";
import {
  dressPlace,
  entryForm,
  fillBoxes,
  notHere,
  placeOf,
  showSaved,
  structureNow,
} from "../shell/entry_form.js";
import { startPage } from "../shell/start.js";
import { nextUnit, rememberUnit, unitOf } from "../typed/staff_unit.js";
import { drawBoxes } from "./boxes.js";
import { typedEarly } from "./early.js";
import { emptyReading, inUnit, isHalfFilled, noteAnswer } from "./empty.js";

const MOST_HEADS = 10;
const asked = query();
const form = byId("form");
let values = null;
let place = null; // {site, structure, record, visitId, personId, corrects, refusedId}
let work = null; // understand.js, once it is here
let understood = null;

const nowIso = () => new Date().toISOString();
const life = entryForm({
  title: () => `Head reading, ${place.site.name}`,
  isHalf: isHalfFilled,
  draw,
  look: () => look(true),
  boxOf: ([field, index, part]) => {
    if (["staff_m", "read_at"].includes(field) || part === "text")
      return byId("heads").children[index ?? 0];
    if (field === "entered" && index === "text") return byId("heads");
    if (field === "tailwater") return index === "state" ? byId("tail") : form.elements.tail_text;
    if (field === "gate_opened_at") return form.elements.gate;
    return field === "observed_at" ? form.elements.time : null;
  },
});

async function open(ctx, pack) {
  if (life.isSaved) return undefined;
  if (values) {
    // the pack is newer: keep what is typed, assess it by the newer ratings
    const newer = findStructure(pack, place.structure.id);
    if (newer.structure) {
      newer.structure = await structureNow(ctx, pack, newer.structure);
      Object.assign(place, newer);
    }
    return life.refresh();
  }
  place = await placeOf(ctx, pack, ["head_reading"]);
  const { site, structure, record } = place;
  if (!structure) return notHere("structure or entry");
  const back =
    record &&
    (await import("./correct.js")).valuesOf(record.entry, uuid7(), (iso) =>
      toLocalBox(iso, site.utc_offset_min),
    );
  const what = asked.fix ? "fix" : asked.correct ? "correct" : (asked.occasion ?? "as_found");
  values = await life.open(ctx, place, {
    bareKey: `reading:${structure.id}:${record?.id ?? asked.visit ?? "alone"}:${what}`,
    start: () => back ?? emptyReading(uuid7(), unitOf(site), asked.occasion ?? "as_found"),
  });
  const early = typedEarly(form);
  Object.assign(values, early);
  dress();
  listen();
  if (Object.keys(early).length) life.typed();
  if (!record && !isHalfFilled(values)) focusHead(0);
  work = await import("./understand.js");
  life.refresh();
  byId("photos").addEventListener("toggle", () => photos(ctx), { once: true });
  return life.rest();
}

/** Put site, names and the values into the page, once. */
function dress() {
  const { site, structure } = place;
  byId("title").textContent = site.name;
  byId("structure").textContent = `${structure.name} \u00b7 ${structure.described}`;
  dressPlace(place);
  show(byId("reason-row"), Boolean(place.corrects));
  fillBoxes(form, values);
  if (values.time) show(byId("time-rows"), true);
  if (!structure.tailwater_gauge)
    form.querySelector('[value="read"]').closest("label").hidden = true;
  drawBoxes(values, hands);
}

function listen() {
  form.addEventListener("input", (event) => {
    const { name, value, type } = event.target;
    if (name === "conditions") values.conditions = ticked(form.elements.conditions);
    else if (name && name !== "head" && (type !== "radio" || event.target.checked))
      values[name] = value;
    if (name === "tail_text" && value.trim()) form.elements.tail.value = values.tail = "read";
    life.typed();
  });
  form.addEventListener("submit", save);
  const more = byId("more");
  more.addEventListener("mousedown", (event) => event.preventDefault()); // the pad stays up
  more.addEventListener("click", readAgain);
  byId("unit").addEventListener("click", () => {
    inUnit(values, nextUnit(values.unit));
    rememberUnit(place.site, values.unit);
    life.typed();
  });
  byId("gate-now").addEventListener("click", () => {
    values.gate = form.elements.gate.value = toLocalBox(nowIso(), place.site.utc_offset_min);
    life.typed();
  });
  byId("time-edit").addEventListener("click", () => {
    show(byId("time-rows"), true);
    values.time ||= toLocalBox(nowIso(), place.site.utc_offset_min);
    form.elements.time.value = values.time;
    form.elements.time.focus();
    life.typed();
  });
}

const ticked = (boxes) => [...boxes].filter((box) => box.checked).map((box) => box.value);

const focusHead = (index) =>
  byId("heads")
    .children[index].querySelector("input")
    .focus({ preventScroll: index === 0 });

function readAgain() {
  if (values.heads.length >= MOST_HEADS) return;
  values.heads.push({ text: "", at: null });
  drawBoxes(values, hands);
  focusHead(values.heads.length - 1);
  life.typed();
}

/** The pad's own "next": the following box, a new one behind the last, then the tail staff. */
function nextBox(index) {
  const { heads } = values;
  if (heads[index + 1]) return focusHead(index + 1);
  if (heads[index].text.trim() && heads.length < MOST_HEADS) return readAgain();
  const tail = form.elements.tail_text;
  return tail.offsetParent ? tail.focus() : document.activeElement.blur();
}

/** A picture belongs to the reading that is being written, by its id. */
async function photos(ctx) {
  const { photoBox } = await import("../shell/photos_box.js");
  const box = photoBox(ctx, () => ({ ...place, of: values.id, before: place.refusedId }));
  byId("photos").append(box.node);
}

function typedHead(index, text) {
  const box = values.heads[index];
  box.text = text;
  if (!text.trim()) box.at = null;
  else if (!place.corrects && !place.refusedId) box.at ??= nowIso();
}

const hands = { typed: typedHead, next: nextBox };

function look(saving = false) {
  understood = work.understand(values, place, nowIso(), saving);
}

/** What is typed, and what it means; before the sums are loaded only what is typed. */
function draw() {
  if (!work) return;
  const { site } = place;
  look();
  work.drawUnderstood(values, understood, place, answersFor);
  const time = siteTime(understood.reading.observed_at, site.utc_offset_min);
  byId("time-now").textContent = values.time
    ? ""
    : `Time ${time} (${offsetWords(site.utc_offset_min)})`;
  show(byId("time-edit"), !values.time);
}

/** What an answer of one tap does to the box it stands beside. */
function answersFor(index) {
  const typed = index === "tail" ? values.tail_text : values.heads[index].text;
  const put = (text, kept, words = kept ? "as typed" : text) => {
    noteAnswer(values, index === "tail" ? "tail" : "staff", typed, words);
    if (index === "tail") values.tail_text = form.elements.tail_text.value = text;
    else values.heads[index].text = text;
    if (kept) values.kept.push(text);
    drawBoxes(values, hands);
    life.typed();
  };
  const dry = () => {
    values.dry = true;
    put(typed, true, "dry");
  };
  return { agree: (text) => put(text, false), keep: (text) => put(text, true), dry };
}

async function save(event) {
  event.preventDefault();
  try {
    work ??= await import("./understand.js");
  } catch (error) {
    return life.notSaved(error);
  }
  return life.save(event, {
    problems: () => understood.problems[0],
    entry: () => work.entryOf(values, understood, { ...place, now: nowIso() }),
    done: saved,
  });
}

function saved(entry) {
  const { site, structure, visitId } = place;
  const at = siteTime(entry.saved_at, site.utc_offset_min).slice(11);
  const again = (occasion) =>
    address("/field/reading", { structure: structure.id, visit: visitId, occasion });
  showSaved(
    form,
    el("p", { class: "big" }, stateMark("on this phone")),
    ...work.savedWords(entry, understood, at),
    entry.body.occasion === "as_found" && !asked.correct
      ? el("p", {}, el("a", { class: "button", href: again("as_left") }, "Read as left"))
      : null,
    el("p", {}, el("a", { class: "button", href: again("during") }, "Another reading")),
    el(
      "p",
      {},
      el(
        "a",
        { class: "button main", href: byId("back").href },
        visitId ? "Back to the visit" : `Back to ${site.name}`,
      ),
    ),
  );
}

startPage(open);

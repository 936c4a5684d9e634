/**
 * Bring a logger's file to the office: picked here, kept on this phone to the byte, sent after all
 * entries. The office looks at it before anything is taken in. ?fix=UUID puts a refused one right.
 */

import { byId, el, fill, show } from "../../shared/dom.js";
import { siteTime } from "../../shared/format.js";
import { clockWords } from "../base/clock_words.js";
import { stateMark, stateWord } from "../base/states.js";
import { thresholds } from "../base/thresholds.js";
import { uuid7 } from "../base/uuid7.js";
import { openFieldDatabase } from "../keep/database.js";
import { makePhotos } from "../keep/photos.js";
import { dressPlace, entryForm, fillBoxes, notHere, placeOf } from "../shell/entry_form.js";
import { sha256Of } from "../shell/photos_box.js";
import { startPage } from "../shell/start.js";
import { text } from "../typed/text.js";
import { clockFast, firstLines, loggerFileEntry } from "./entry.js";

const form = byId("form");
const files = makePhotos(openFieldDatabase); // a file travels the road of the photos
const BOXES = ["clock_fast", "serial", "note"];
let context = null;
let place = null;
let opened = false;
let picked = null; // {sha256, name, size}: its bytes are on this phone from the moment it is picked
const life = entryForm({
  title: () => `Logger file, ${place.site.name}`,
  isHalf: (values) => Boolean(values.picked) || BOXES.some((name) => values[name].trim()),
  boxOf: ([field]) =>
    form.elements[{ clock_fast_s: "clock_fast", serial: "serial", note: "note" }[field]] ??
    byId("file"),
});

async function draw(ctx, pack) {
  context = ctx;
  const where = await placeOf(ctx, pack, ["logger_file"]);
  if (!where.structure) return opened ? undefined : notHere("structure or file", byId("place"));
  place = where;
  const { site, structure } = place;
  byId("place").textContent = `${site.name}: ${structure.name}`;
  dressPlace(place);
  await drawKept();
  if (opened) return undefined;
  opened = true;
  await begin();
  show(form, true);
  return life.rest();
}

async function begin() {
  const { structure, record } = place;
  const body = record?.entry.body;
  const empty = { id: uuid7(), picked: null, clock_fast: "", serial: "", note: "" };
  const back = body && {
    ...empty,
    picked: body,
    clock_fast: text(body.clock_fast_s),
    serial: body.serial,
    note: body.note,
  };
  const values = await life.open(context, place, {
    bareKey: `logger:${structure.id}${record ? `:${record.id}` : ""}`,
    start: () => back ?? empty,
  });
  fillBoxes(form, values);
  await showPicked(values.picked);
}

/** What was picked, if its bytes are still here; else it has to be picked again. */
async function showPicked(file) {
  const row = file ? await files.get(file.sha256) : null;
  picked = row ? { sha256: file.sha256, name: file.name, size: file.size } : null;
  show(byId("look"), Boolean(picked));
  if (file && !row) say(`${file.name} is not on this phone any more: choose it again.`);
  if (!picked) return;
  byId("picked").textContent = `${picked.name}, ${sizeWords(picked.size)}`;
  byId("lines").textContent = firstLines(row.bytes).join("\n");
}

async function drawKept() {
  const records = (await context.outbox.all()).filter(
    ({ entry }) => entry.kind === "logger_file" && entry.structure_id === place.structure.id,
  );
  fill(byId("kept"), await Promise.all(records.reverse().map(keptRow)));
  show(byId("kept-part"), records.length > 0);
}

async function keptRow(record) {
  const { name, size, sha256 } = record.entry.body;
  const row = await files.get(sha256);
  const here = record.state === "stored" && row && !row.sent_epoch;
  return el(
    "li",
    { class: "reading-row" },
    el(
      "div",
      { class: "line" },
      el("strong", {}, name || "logger file"),
      stateMark(here ? "on this phone" : stateWord(record)),
    ),
    el(
      "p",
      { class: "aside" },
      `${sizeWords(size)}, ${siteTime(record.entry.observed_at, place.site.utc_offset_min)}`,
    ),
    record.refusal
      ? el("p", { class: "problem" }, `${record.refusal.rule}. ${record.refusal.remedy}`)
      : null,
    row?.problem ? el("p", { class: "problem" }, row.problem) : null,
  );
}

function sizeWords(bytes) {
  return bytes < 1024 * 1024
    ? `${Math.max(1, Math.round(bytes / 1024))} kB`
    : `${(bytes / 1024 / 1024).toFixed(1)} MB`;
}

const { say } = life;

async function pick() {
  const chosen = byId("file").files[0];
  say("");
  if (!chosen) return undefined;
  if (chosen.size === 0 || chosen.size > thresholds.files.logger_bytes)
    return say(`A file of ${sizeWords(chosen.size)} is not taken: 1 byte to 64 MB.`);
  try {
    if (!globalThis.crypto?.subtle) throw new Error("files need the HTTPS address of the office");
    const bytes = await chosen.arrayBuffer();
    const file = { sha256: await sha256Of(bytes), name: chosen.name, size: chosen.size };
    await keepBytes(file, bytes);
    await showPicked(file);
    life.values.picked = picked;
    life.typed();
  } catch (error) {
    say(`The file could not be read: ${error.message}`);
  }
  return undefined;
}

/** Kept at once, so that a half-filled form comes back with its file; let go if it is never saved. */
const keepBytes = ({ sha256, name }, bytes) =>
  files.keep({
    sha256,
    bytes,
    name,
    kind: "logger_file",
    by: place.personId,
    entry_id: life.values.id,
    taken_at: new Date().toISOString(),
    sent_epoch: null,
    problem: null,
    held: false,
  });

function readClock() {
  const away = clockFast(
    form.elements.clock_shown.value,
    new Date().toISOString(),
    place.site.utc_offset_min,
  );
  if (away === null)
    return say("Type what the logger shows, such as 14:03:20, then tap at that moment.");
  say("");
  form.elements.clock_fast.value = life.values.clock_fast = String(away);
  life.typed();
  byId("clock-words").textContent =
    away === 0
      ? "The logger's clock is right."
      : `The logger's clock is ${clockWords(away)} against this phone.`;
  return undefined;
}

function save(event) {
  let made = null;
  return life.save(event, {
    problems: () => {
      made = loggerFileEntry(life.values, picked, {
        ...place,
        id: life.values.id,
        now: new Date().toISOString(),
      });
      return made.problem;
    },
    entry: async () => {
      await files.follow(picked.sha256, made.entry); // first: bytes without a record are sent all the same
      return made.entry;
    },
    done: async () => {
      form.reset();
      byId("clock-words").textContent = "";
      if (place.record)
        show(form, false); // put right: there is no second one
      else await begin();
      await drawKept();
      byId("kept-title").focus();
    },
  });
}

form.addEventListener("input", ({ target }) => {
  if (!BOXES.includes(target.name)) return;
  life.values[target.name] = target.value;
  life.typed();
});
byId("file").addEventListener("change", pick);
byId("clock-now").addEventListener("click", readClock);
form.addEventListener("submit", save);

startPage(draw);

/**
 * Bring a logger's file to the office: picked here, kept on this phone to the byte, sent after all
 * records. The office looks at it before anything is taken in.
 */
import { clockWords } from "./clock_words.js";
import { openFieldDatabase } from "./database.js";
import { byId, el, fill, query, show } from "./dom.js";
import { siteTime } from "./format.js";
import { clockFast, firstLines, LARGEST_BYTES, loggerFileEntry } from "./logger_file_entry.js";
import { findStructure } from "./pack.js";
import { makePhotos } from "./photos.js";
import { sha256Of } from "./photos_box.js";
import { setHalfFilled, startPage } from "./shell.js";
import { stateMark, stateWord } from "./states.js";
import { uuid7 } from "./uuid7.js";

const form = byId("form");
const files = makePhotos(openFieldDatabase); // a file travels the road of the photos
let context = null;
let place = null;
let picked = null; // {sha256, name, size, bytes}

async function draw(ctx, pack) {
  context = ctx;
  const asked = query();
  const found = findStructure(pack, asked.structure);
  if (!found.structure) {
    byId("place").textContent = "This phone does not hold that structure. Go back to the sites.";
    return;
  }
  place = { ...found, visitId: asked.visit ?? null, personId: pack.person.id };
  const { site, structure } = place;
  byId("place").textContent = `${site.name}: ${structure.name}`;
  byId("back").href = asked.visit ? `/field/visit?visit=${asked.visit}` : `/field/site?id=${site.id}`;
  byId("back").lastChild.textContent = asked.visit ? " Visit" : ` ${site.name}`;
  await drawKept();
  show(form, true);
}

async function drawKept() {
  const records = (await context.outbox.all()).filter(({ entry }) => entry.kind === "logger_file" && entry.structure_id === place.structure.id);
  fill(byId("kept"), await Promise.all(records.reverse().map(keptRow)));
  show(byId("kept-part"), records.length > 0);
}

async function keptRow(record) {
  const { name, size, sha256 } = record.entry.body;
  const row = await files.get(sha256);
  const here = record.state === "stored" && row && !row.sent_epoch;
  return el("li", { class: "reading-row" },
    el("div", { class: "line" }, el("strong", {}, name || "logger file"), stateMark(here ? "on this phone" : stateWord(record))),
    el("p", { class: "aside" }, `${sizeWords(size)}, ${siteTime(record.entry.observed_at, place.site.utc_offset_min)}`),
    record.refusal ? el("p", { class: "problem" }, `${record.refusal.rule}. ${record.refusal.remedy}`) : null,
    row?.problem ? el("p", { class: "problem" }, row.problem) : null);
}

function sizeWords(bytes) {
  return bytes < 1024 * 1024 ? `${Math.max(1, Math.round(bytes / 1024))} kB` : `${(bytes / 1024 / 1024).toFixed(1)} MB`;
}

function say(words) {
  byId("problem").textContent = words;
  show(byId("problem"), Boolean(words));
}

async function pick() {
  const chosen = byId("file").files[0];
  say("");
  picked = null;
  show(byId("look"), false);
  if (!chosen) return;
  if (chosen.size === 0 || chosen.size > LARGEST_BYTES) return say(`A file of ${sizeWords(chosen.size)} is not taken: 1 byte to 64 MB.`);
  try {
    if (!globalThis.crypto?.subtle) throw new Error("files need the HTTPS address of the office");
    const bytes = await chosen.arrayBuffer();
    picked = { sha256: await sha256Of(bytes), name: chosen.name, size: chosen.size, bytes };
    byId("picked").textContent = `${chosen.name}, ${sizeWords(chosen.size)}`;
    byId("lines").textContent = firstLines(bytes).join("\n");
    show(byId("look"), true);
    setHalfFilled(true);
  } catch (error) {
    say(`The file could not be read: ${error.message}`);
  }
  return undefined;
}

function readClock() {
  const away = clockFast(form.elements.clock_shown.value, new Date().toISOString(), place.site.utc_offset_min);
  if (away === null) return say("Type what the logger shows, such as 14:03:20, then tap at that moment.");
  say("");
  form.elements.clock_fast.value = String(away);
  byId("clock-words").textContent = away === 0 ? "The logger's clock is right." : `The logger's clock is ${clockWords(away)} against this phone.`;
  return undefined;
}

async function save(event) {
  event.preventDefault();
  const typed = { clock_fast: form.elements.clock_fast.value, serial: form.elements.serial.value, note: form.elements.note.value };
  const { problem, entry } = loggerFileEntry(typed, picked, { ...place, id: uuid7(), now: new Date().toISOString() });
  if (problem) return say(problem);
  byId("save").disabled = true;
  try {
    const { sha256, bytes, name } = picked;
    await files.keep({ sha256, bytes, name, kind: "logger_file", by: place.personId, entry_id: entry.id, taken_at: entry.saved_at, sent_epoch: null, problem: null, held: false });
    await context.outbox.hold(entry);
    await files.markHeld(sha256);
    picked = null;
    form.reset();
    show(byId("look"), false);
    byId("clock-words").textContent = "";
    setHalfFilled(false);
    await drawKept();
    await context.showState();
    byId("kept-title").focus();
    context.send();
  } catch (error) {
    say(`NOT kept: ${error.message}. The file is still where you picked it.`);
  }
  byId("save").disabled = false;
  return undefined;
}

byId("file").addEventListener("change", pick);
byId("clock-now").addEventListener("click", readClock);
form.addEventListener("input", () => setHalfFilled(Boolean(picked)));
form.addEventListener("submit", save);

startPage(draw);

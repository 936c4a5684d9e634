/**
 * The level book: sights booked one by one, levels and checks as typed, then saved to this phone.
 *
 * Address: ?structure=ID or ?site=ID, with visit=UUID; correct=UUID corrects a run on this phone,
 * fix=UUID puts a refused one right.
 */
import { address, byId, el, fill, query, show } from "./dom.js";
import { offsetWords, siteTime, toLocalBox } from "./format.js";
import { doubt, emptyRun, isHalfFilled, marksOf, pegTest, problems, reduce, runEntry } from "./levels_entry.js";
import { movedMarks } from "./levels_marks.js";
import { drawMarks, startMarks } from "./levels_marks_form.js";
import { valuesOfRun } from "./levels_correct.js";
import { makeSight } from "./levels_sight.js";
import { drawBook, drawChecks, drawPeg, drawResults, figure, signed } from "./levels_view.js";
import { findSite, findStructure, inForce } from "./pack.js";
import { parseNumber } from "./numbers.js";
import { photoBox } from "./photos_box.js";
import { interpolate } from "./preview.js";
import { setHalfFilled, startPage } from "./shell.js";
import { stateMark, stateWord } from "./states.js";
import { uuid7 } from "./uuid7.js";

const asked = query();
const form = byId("form");
let values = null;
let place = null; // {site, structure, survey, visitId, personId, corrects}
let context = null;
let draftKey = "";
let reduced = null;
let photos = null;
let savedEntry = null;
const sight = makeSight(form, () => ({ values, place }), typed);

const TEXTS = [
  "start_text",
  "staff_text",
  "tail_text",
  "rule",
  "distance_text",
  "limit_text",
  "close_text",
  "tolerance_text",
  "low_head_text",
  "zero_from",
  "zero_reason",
  "instrument",
  "note",
  "reason",
];

const nowIso = () => new Date().toISOString();

async function open(ctx, pack) {
  const earlier = asked.correct ?? asked.fix;
  const record = earlier ? await ctx.outbox.get(earlier) : null;
  const id = record?.entry.structure_id ?? asked.structure;
  let { site, structure } = findStructure(pack, id);
  site ??= findSite(pack, record?.entry.site_id ?? asked.site);
  if (!site || (earlier && !record)) {
    if (values) return;
    byId("title").textContent = "Not on this phone";
    fill(form, el("p", {}, "This phone does not hold that site or run. Go back to the sites."));
    return;
  }
  structure ??= site.structures.length === 1 ? site.structures[0] : null;
  const survey = pack.survey?.sites[site.id] ?? { benchmarks: [], runs: [] };
  const opened = place !== null;
  place = {
    site,
    structure,
    survey,
    personId: pack.person.id,
    visitId: record?.entry.visit_id ?? asked.visit ?? null,
    corrects: asked.correct ?? record?.entry.corrects ?? null,
    refusedId: asked.fix ?? null,
  };
  await drawMarks(place, ctx);
  if (opened) {
    photos?.draw();
    if (savedEntry) await drawSaved();
    else update();
    return;
  }
  context = ctx;
  draftKey = `levels:${structure?.id ?? `site-${site.id}`}:${record?.id ?? "run"}`;
  const draft = await ctx.drafts.get(draftKey);
  values = draft?.values ?? (record ? valuesOfRun(record.entry, uuid7()) : emptyRun(uuid7()));
  dress(Boolean(draft));
  listen();
  photos = photoBox(ctx, () => ({ ...place, of: values.id, place: "level run" }));
  byId("photos").append(photos.node);
  startMarks(() => place, context);
  update();
}

function dress(restored) {
  const { site, structure } = place;
  byId("title").textContent = "Level book";
  byId("structure").textContent = [site.name, structure?.name].filter(Boolean).join(" \u00b7 ");
  byId("back").href = address(place.visitId ? "/field/visit" : "/field/site", {
    id: place.visitId ? null : site.id,
    visit: place.visitId,
  });
  byId("back").lastChild.textContent = place.visitId ? " Visit" : ` ${site.name}`;
  document.querySelectorAll(".zone").forEach((node) => (node.textContent = `(${offsetWords(site.utc_offset_min)})`));
  show(byId("reason-row"), Boolean(place.corrects));
  if (restored) {
    byId("structure").after(
      el(
        "p",
        { class: "notice", id: "restored" },
        "Your half-filled book is back. ",
        el("button", { type: "button", onclick: discard }, "Discard it"),
      ),
    );
  }
  for (const name of TEXTS) form.elements[name].value = values[name];
  for (const name of ["adjusted", "set_zero"]) form.elements[name].checked = values[name];
  for (const [key, text] of Object.entries(values.peg)) form.elements[`peg.${key}`].value = text;
  sight.show();
}

async function discard() {
  await context.drafts.discard(draftKey);
  location.reload();
}

function listen() {
  form.addEventListener("input", ({ target }) => {
    const { name, value } = target;
    if (name === "reading") values.next.text = value;
    else if (name === "point") values.next.point = value;
    else if (name === "kind") sight.setKind(value);
    else if (name === "role") sight.setPoint(value);
    else if (name.startsWith("peg.")) values.peg[name.slice(4)] = value;
    else if (name === "adjusted") values.adjusted = target.checked;
    else if (name === "set_zero") setZero(target.checked);
    else if (TEXTS.includes(name)) values[name] = value;
    typed();
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault(); // the phone's own key books the sight; it never saves the run
    if (event.target.name === "reading") sight.bookIt();
  });
  form.addEventListener("submit", save);
  byId("book-it").addEventListener("click", sight.bookIt);
  byId("strike").addEventListener("click", sight.strike);
  byId("leave").addEventListener("click", () => sight.change(null));
  byId("unit").addEventListener("click", () => {
    values.unit = values.unit === "m" ? "ft" : "m";
    typed();
  });
}

function setZero(yes) {
  values.set_zero = yes;
  if (yes)
    values.zero_from = form.elements.zero_from.value =
      values.zero_from || toLocalBox(nowIso(), place.site.utc_offset_min);
}

function typed() {
  const half = isHalfFilled(values);
  setHalfFilled(half);
  const page = { href: location.pathname + location.search, title: `Level book, ${place.site.name}` };
  const kept = half ? context.drafts.keep(draftKey, structuredClone(values), page) : context.drafts.discard(draftKey);
  kept.catch((error) =>
    sayAt("problem", `This phone cannot keep the draft: ${error.message}. Write the figures on paper too.`),
  );
  sayAt("problem", "");
  update();
}

function sayAt(id, words) {
  byId(id).textContent = words;
  show(byId(id), Boolean(words));
}

/** The exponent of the rating at the low head, for what a tilt does to the discharge there. */
function exponent() {
  const rating = place.structure ? inForce(place.structure.ratings, nowIso()) : null;
  const low = (parseNumber(values.low_head_text, { high: 999 }) ?? NaN) / 1000;
  return (rating && interpolate(rating.table, low)?.exponent) || 1.5;
}

function update() {
  const { unit } = values;
  reduced = reduce(values, exponent());
  document.querySelectorAll(".unit:not(.metres)").forEach((node) => (node.textContent = unit));
  byId("unit").textContent = unit === "m" ? "Book in ft" : "Book in m";
  byId("unit").disabled = values.sights.length > 0;
  drawBook(values, reduced.run, sight.change);
  sight.drawTyped();
  drawChecks(values, reduced);
  drawResults(reduced, values);
  drawPeg(pegTest(values.peg));
  drawZero();
  show(byId("distance-row"), values.rule === "distance");
  show(byId("limit-row"), values.rule === "fixed");
  const { run } = reduced;
  const backToFirst = run?.complete && run.point.at(-1) === run.point[0];
  show(byId("close-row"), Boolean(run?.complete && !backToFirst));
  drawStart();
}

function drawStart() {
  const first = values.sights[0]?.point ?? values.next.point;
  const known = place.survey.benchmarks.find((mark) => mark.name === first);
  const level = known?.rl_m ?? null;
  byId("start-from").textContent = !values.start_text.trim()
    ? "Type its level; 100 as an assumed datum is usual on a new site."
    : level === null
      ? ""
      : `${known.name} is known at ${figure(level, 4)} m (${known.stability}).`;
}

function drawZero() {
  const { structure, site } = place;
  show(byId("zero"), Boolean(structure));
  if (!structure) return;
  const zero = inForce(structure.gauge_zeros, nowIso());
  byId("zero-now").textContent = zero
    ? `In force since ${siteTime(zero.valid_from, site.utc_offset_min)}: ${signed(zero.offset_m * 1000, 1)} mm from the crest.`
    : "No gauge zero yet: readings are kept, not rated.";
  show(byId("zero-rows"), values.set_zero);
  const why = values.set_zero && reduced.run ? doubt(reduced.run) : "";
  byId("zero-doubt").textContent = [why ? `Needs a reason: ${why}.` : "", ...moved()].filter(Boolean).join(" ");
}

/** Benchmarks that this run finds moved against the runs the office holds. */
function moved() {
  if (!reduced.run || !values.sights.some(({ role }) => role === "benchmark")) return [];
  const history = [...place.survey.runs.map((run) => run.marks_m), marksOf(values.sights, reduced.run)];
  return movedMarks({ history })
    .filter(({ run }) => run === history.length - 1)
    .map(({ words }) => `${words}.`);
}

async function save(event) {
  event.preventDefault();
  update();
  const problem =
    problems(values, reduced)[0] ?? (place.corrects && !values.reason.trim() ? "Say why it is corrected." : "");
  sayAt("problem", problem);
  if (problem) return;
  byId("save").disabled = true;
  try {
    const entry = runEntry(values, reduced, { ...place, now: nowIso(), exponent: exponent() });
    await context.drafts.settle();
    if (place.refusedId) await context.outbox.replace(place.refusedId, entry, draftKey);
    else await context.outbox.hold(entry, draftKey);
    setHalfFilled(false);
    savedEntry = entry;
    show(form, false);
    byId("restored")?.remove();
    await drawSaved();
    show(byId("saved"), true);
    window.scrollTo(0, 0);
    await context.showState();
    context.send();
  } catch (error) {
    byId("save").disabled = false;
    sayAt("problem", `NOT saved: ${error.message}. The book is still here; write the figures on paper too.`);
  }
}

/** What was saved, and once the office has it what the office said. */
async function drawSaved() {
  const entry = savedEntry;
  const record = await context.outbox.get(entry.id);
  const { run, results } = reduced;
  const misclosure =
    run.misclosure === null
      ? "misclosure unknown"
      : `misclosure ${signed(run.misclosure_mm, 1)} mm, limit ${figure(run.limit_mm, 2)} mm`;
  const zero = entry.body.set_zero;
  fill(
    byId("saved"),
    el("p", { class: "big" }, stateMark(stateWord(record))),
    el("p", {}, `${results ? `Crest ${figure(results.crest_rl_m, 4)} m, ` : ""}${misclosure}.`),
    zero
      ? el(
          "p",
          {},
          `New gauge zero from ${siteTime(zero.from, place.site.utc_offset_min)}, ` +
            `${signed(results.zero_minus_crest_m * 1000, 1)} mm from the crest; in force when the office has stored it.`,
        )
      : null,
    record.notes.map((words) =>
      el("p", { class: words.includes("not set") ? "problem" : "" }, `The office: ${words}.`),
    ),
    record.refusal ? el("p", { class: "problem" }, `${record.refusal.rule}. ${record.refusal.remedy}`) : null,
    el(
      "p",
      {},
      el(
        "a",
        { class: "button main", href: byId("back").href },
        place.visitId ? "Back to the visit" : `Back to ${place.site.name}`,
      ),
    ),
  );
}

startPage(open);

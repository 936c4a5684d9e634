/**
 * The level book: sights booked one by one, levels and checks as typed, then saved to this phone.
 *
 * Address: ?structure=ID or ?site=ID, with visit=UUID; correct=UUID corrects a run on this phone,
 * fix=UUID puts a refused run or benchmark right.
 */
import { byId, show } from "../../shared/dom.js";
import { siteTime, toLocalBox } from "../../shared/format.js";
import { parseNumber } from "../../shared/numbers.js";
import { drawInstrument, remember } from "../base/instruments.js";
import { uuid7 } from "../base/uuid7.js";
import { inForce } from "../keep/pack.js";
import { standingHere } from "../keep/standing.js";
import {
  dressPlace,
  entryForm,
  fillBoxes,
  notHere,
  placeOf,
  showSaved,
} from "../shell/entry_form.js";
import { photoBox } from "../shell/photos_box.js";
import { startPage } from "../shell/start.js";
import { interpolate } from "../sums/preview.js";
import { lastFound, openOn } from "./book.js";
import { valuesOfRun } from "./correct.js";
import { doubt } from "./doubts.js";
import { emptyRun, isHalfFilled, pegTest, problems, runEntry } from "./entry.js";
import { movedMarks } from "./marks.js";
import { drawMarks, startMarks } from "./marks_form.js";
import { marksOf, reduce } from "./reduce.js";
import { drawSaved } from "./saved.js";
import { makeSight } from "./sight.js";
import { drawBook, drawChecks, drawPeg, drawResults, figure, signed } from "./view.js";

const form = byId("form");
let values = null;
let place = null; // {site, structure, survey, record, visitId, personId, corrects, refusedId}
let context = null;
let reduced = null;
let photos = null;
let savedEntry = null;
const life = entryForm({
  title: () => `Level book, ${place.site.name}`,
  isHalf: isHalfFilled,
  draw: update,
  noun: "book",
  boxOf,
});
const { typed } = life;
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
  "accepted_text",
  "instrument",
  "note",
  "reason",
];

const nowIso = () => new Date().toISOString();

async function open(ctx, pack) {
  const where = await placeOf(ctx, pack, ["level_run", "benchmark"]);
  const { site, record } = where;
  if (!site) return place ? undefined : notHere("site or run");
  const opened = place !== null;
  const stand = standingHere(pack, await ctx.outbox.all());
  const standing = ({ id }) => stand.stands(id);
  const office = pack.survey?.sites[site.id] ?? { benchmarks: [], runs: [] };
  place = {
    ...where,
    pack,
    structure: where.structure ?? (site.structures.length === 1 ? site.structures[0] : null),
    survey: {
      ...office,
      runs: office.runs.filter(standing),
      benchmarks: office.benchmarks.filter(standing),
    },
    stand,
  };
  await drawMarks(place, ctx);
  if (record?.entry.kind === "benchmark") return opened ? undefined : openMark(ctx);
  if (opened) {
    photos?.draw();
    return savedEntry ? drawSaved(savedEntry, { context, reduced, place }) : life.refresh();
  }
  context = ctx;
  values = await life.open(ctx, place, {
    bareKey: `levels:${place.structure?.id ?? `site-${site.id}`}:${record?.id ?? "run"}`,
    start: () =>
      record
        ? valuesOfRun(record.entry, uuid7(), site.utc_offset_min)
        : openOn(emptyRun(uuid7()), place),
  });
  dress();
  listen();
  photos = photoBox(ctx, () => ({
    ...place,
    of: values.id,
    before: place.record?.id,
    place: "level run",
  }));
  byId("photos").append(photos.node);
  await startMarks(() => place, context);
  life.refresh();
  return life.rest();
}

/** Only the mark: the book of the site stays as it is. */
function openMark(ctx) {
  dressPlace(place);
  byId("title").textContent = "Benchmark";
  byId("structure").textContent = place.site.name;
  show(form, false);
  byId("marks").open = true;
  return startMarks(() => place, ctx);
}

/** The box of a field of the body, where its name does not say it. */
function boxOf([field, part]) {
  if (field === "rows")
    return part === undefined
      ? byId("book")
      : (byId("book").querySelectorAll("tbody tr:not(.setup)")[part] ?? byId("book"));
  if (field === "peg_test") return form.elements[`peg.${part}`] ?? byId("peg");
  const names = {
    start_rl: "start_text",
    close_rl: "close_text",
    staff_mark_m: "staff_text",
    tail_mark_m: "tail_text",
    corner_tolerance_m: "tolerance_text",
    low_head_m: "low_head_text",
    exponent: "low_head_text",
  };
  if (field === "rule")
    return form.elements[{ distance_km: "distance_text", limit_mm: "limit_text" }[part] ?? "rule"];
  if (field === "set_zero")
    return form.elements[
      { from: "zero_from", reason: "zero_reason", accepted_because: "accepted_text" }[part] ??
        "set_zero"
    ];
  return form.elements[names[field]] ?? null;
}

function dress() {
  const { site, structure } = place;
  byId("title").textContent = "Level book";
  byId("structure").textContent = [site.name, structure?.name].filter(Boolean).join(" \u00b7 ");
  dressPlace(place);
  show(byId("reason-row"), Boolean(place.corrects));
  fillBoxes(
    form,
    Object.fromEntries([...TEXTS, "adjusted", "set_zero"].map((name) => [name, values[name]])),
  );
  drawInstrument(form, values, place, "level_run");
  for (const [key, text] of Object.entries(values.peg)) form.elements[`peg.${key}`].value = text;
  sight.show();
}

function listen() {
  form.addEventListener("input", ({ target }) => {
    const { name, value } = target;
    if (name === "reading") values.next.text = value;
    else if (name === "sight_length") values.next.distance_text = value;
    else if (name === "point") values.next.point = value;
    else if (name === "kind") sight.setKind(value);
    else if (name === "role") sight.setPoint(value);
    else if (name.startsWith("peg.")) values.peg[name.slice(4)] = value;
    else if (name === "instrument_id") {
      values.instrument_id = value;
      remember("level_run", value, localStorage);
      drawInstrument(form, values, place, "level_run");
    } else if (name === "adjusted") values.adjusted = target.checked;
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
    if (values.start_text === values.opened_on) sight.setPoint(byId("role").value);
    typed();
  });
}

function setZero(yes) {
  values.set_zero = yes;
  if (yes)
    values.zero_from = form.elements.zero_from.value =
      values.zero_from || toLocalBox(nowIso(), place.site.utc_offset_min);
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
  for (const id of ["distance-row", "length-row"]) show(byId(id), values.rule === "distance");
  show(byId("limit-row"), values.rule === "fixed");
  const { run } = reduced;
  const backToFirst = run?.complete && run.point.at(-1) === run.point[0];
  show(byId("close-row"), Boolean(run?.complete && !backToFirst));
  drawStart();
}

const dayOf = (iso) => siteTime(iso, place.site.utc_offset_min).slice(0, 10);

function drawStart() {
  const first = values.sights[0]?.point ?? values.next.point;
  const known = place.survey.benchmarks.find((mark) => mark.name === first);
  const level = known?.rl_m ?? null;
  byId("start-from").textContent = !values.start_text.trim()
    ? "Type its level; 100 as an assumed datum is usual on a new site."
    : level === null
      ? ""
      : `${known.name} is known at ${figure(level, 4)} m (${known.stability}). ${lastFound(place, known.name, dayOf)}`;
}

function drawZero() {
  const { structure, site } = place;
  show(byId("zero"), Boolean(structure));
  if (!structure) return;
  const zero = inForce(structure.gauge_zeros, nowIso());
  byId("zero-now").textContent = zero
    ? `In force since ${siteTime(zero.valid_from, site.utc_offset_min)}: ${signed(zero.offset_m * 1000, 1)} mm from the crest${zero.provisional ? ` (${zero.provisional})` : ""}.`
    : "No gauge zero yet: readings are kept, not rated.";
  show(byId("zero-rows"), values.set_zero);
  const why = values.set_zero && reduced.run ? doubt(reduced.run) : "";
  show(byId("accepted-row"), Boolean(why));
  byId("zero-doubt").textContent = [why ? `Level it again: ${why}.` : "", ...moved()]
    .filter(Boolean)
    .join(" ");
}

/** Benchmarks that this run finds moved against the runs the office holds. */
function moved() {
  if (!reduced.run || !values.sights.some(({ role }) => role === "benchmark")) return [];
  const history = [...place.survey.runs.map((run) => run.marks_m), marksOf(values, reduced.run)];
  return movedMarks({ history })
    .filter(({ run }) => run === history.length - 1)
    .map(({ words }) => `${words}.`);
}

function save(event) {
  return life.save(event, {
    problems: () =>
      problems(values, reduced, { utcOffsetMin: place.site.utc_offset_min, now: nowIso() })[0],
    entry: () => runEntry(values, reduced, { ...place, now: nowIso(), exponent: exponent() }),
    done: async (entry) => {
      savedEntry = entry;
      await drawSaved(entry, { context, reduced, place });
      showSaved(form, ...byId("saved").childNodes);
    },
  });
}

startPage(open);

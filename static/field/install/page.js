/**
 * The stops of setting a flume, recorded one by one, each with its stop-or-go word.
 *
 * Address: ?structure=ID lists them; &stop=S3 records one; with visit=UUID. fix=UUID puts a refused
 * stop or dimension check right.
 */
import { address, byId, el, fill, query, show } from "../../shared/dom.js";
import { stateMark } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
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
import { askRow, partPanel, practice } from "./boxes.js";
import { checkStop, stopsSoFar } from "./check.js";
import { drawDimensions } from "./dimensions.js";
import { emptyStop, isHalfFilled, stopBody, stopEntry } from "./entry.js";
import { PARTS } from "./parts.js";
import { drawSequence, SHAPES, wordMark } from "./sequence.js";

const asked = query();
const form = byId("form");
let place = null; // {site, structure, stop, personId, visitId, record, earlier}
let values = null;
let photos = null;
let dimensionsDrawn = false;

const nowIso = () => new Date().toISOString();
const life = entryForm({
  title: () => `${place.stop.key}, ${place.site.name}`,
  isHalf: isHalfFilled,
  draw: update,
  noun: "stop",
  boxOf: ([field, part]) => {
    const names = { corner_tolerance_m: "tolerance", width_limit_m: "width_limit" };
    if (field === "seen")
      return form.querySelector(`[name="seen.${part}"]`)?.closest("fieldset") ?? byId("seen");
    if (field === "tail" && part === "water_depth_m") return form.elements.tail_water_depth_m;
    return form.elements[names[field]] ?? (field === "moment" ? byId("moments") : null);
  },
});

async function open(ctx, pack) {
  if (life.isSaved) return undefined;
  const where = await placeOf(ctx, pack, ["install_stop", "dimension_check"]);
  const { structure, record } = where;
  if (!structure || !pack.survey) {
    if (values || dimensionsDrawn) return undefined;
    show(byId("sequence"), false);
    return notHere("structure or entry", byId("structure"));
  }
  const { stops, cautions } = pack.survey;
  const survey = pack.survey.structures[structure.id];
  const records = await ctx.outbox.all();
  const earlier = stopsSoFar(survey, records, structure.id, standingHere(pack, records)).filter(
    ({ id }) => id !== record?.id,
  );
  const wanted = record?.entry.body.stop ?? asked.stop;
  const stop = stops.find(({ key }) => key === wanted) ?? null;
  place = { ...where, stop, stops, earlier, dimensions: survey?.dimensions ?? [] };
  byId("structure").textContent =
    `${where.site.name} \u00b7 ${structure.name} \u00b7 ${structure.described}`;
  dressPlace(place);
  if (record?.entry.kind === "dimension_check") return drawDimensionsOnly(ctx);
  if (!stop) return drawSequence(place, cautions);
  byId("back").href = address("/field/install", { structure: structure.id, visit: where.visitId });
  byId("back").lastChild.textContent = " Stops";
  if (values) {
    photos.draw();
    return life.refresh();
  }
  const back = record && (await import("./correct.js")).valuesOfStop(record.entry, uuid7());
  values = await life.open(ctx, place, {
    bareKey: record
      ? `install:${structure.id}:${stop.key}:${record.id}`
      : `install:${structure.id}:${stop.key}`,
    start: () => back ?? carried(emptyStop(uuid7(), stop.key)),
  });
  dress(cautions, ctx);
  life.refresh();
  return life.rest();
}

function drawDimensionsOnly(ctx) {
  show(byId("sequence"), false);
  byId("title").textContent = "As-built dimensions";
  if (dimensionsDrawn) return undefined;
  dimensionsDrawn = true;
  return drawDimensions(byId("dimensions"), ctx, place);
}

function dress(cautions, context) {
  const { stop } = place;
  show(byId("sequence"), false);
  show(form, true);
  byId("title").textContent = `${stop.key} ${stop.title}`;
  document.title = `${stop.key} ${stop.title} \u00b7 Sillbook`;
  fill(
    byId("cautions"),
    [...stop.cautions, "certify"].map((key) => el("li", {}, cautions[key])),
  );
  byId("asks-for").textContent = `${stop.check}. Passes when: ${stop.passes}.`;
  show(byId("moments"), stop.parts.includes("moment"));
  fill(
    byId("seen"),
    stop.asks.map((ask) => askRow(ask, values)),
  );
  const parts = stop.parts.filter((part) => PARTS[part]);
  fill(
    byId("parts"),
    parts.map((part) => partPanel(part, values)),
  );
  byId("parts").className = byId("seen").className = "stack";
  fillBoxes(form, { weather: values.weather, note: values.note });
  for (const name of ["moment", "went_on"])
    for (const box of form.elements[name]) box.checked = box.value === values[name];
  form.addEventListener("input", typed);
  form.addEventListener("submit", save);
  photos = photoBox(
    context,
    () => ({
      ...place,
      of: values.id,
      before: place.record?.id,
      place: `${stop.key} ${stop.title}`,
    }),
    {
      hint: "Show what the figures cannot: bracing, straps, the level on the crest.",
    },
  );
  byId("photos").append(photos.node);
  if (stop.parts.includes("dimensions") && !place.record)
    drawDimensions(byId("dimensions"), context, place);
}

/** The mark of the last stop is offered again, so that levels are over one datum. */
function carried(empty) {
  const last = place.earlier
    .map(({ body }) => body.corners)
    .filter(Boolean)
    .at(-1);
  if (!last || !place.stop.parts.includes("corners")) return empty;
  Object.assign(empty.fields, {
    reference: last.reference,
    reference_rl_m: String(last.reference_rl_m),
  });
  return { ...empty, carried: { ...empty.fields } };
}

function typed({ target }) {
  const { name, value } = target;
  if (name.startsWith("seen.")) values.seen[name.slice(5)] = value;
  else if (["moment", "went_on", "weather", "note"].includes(name)) values[name] = value;
  else values.fields[name] = value;
  life.typed();
}

function look() {
  const { body, lacking } = stopBody(values, place.stop);
  return {
    body,
    lacking,
    check: checkStop(
      body,
      place.earlier.map((one) => one.body),
      place.stop,
    ),
  };
}

function update() {
  const { check, lacking } = look();
  for (const part of place.stop.parts) {
    const node = byId(`said-${part}`);
    if (node) fill(node, ...[PARTS[part].say(check)].flat(), practice(part, check));
  }
  const word = lacking.length && check.word !== "stop" ? "unknown" : check.word; // a doubtful figure is never a go
  const order = ["stop", "unknown", "go"];
  const reasons = [...lacking.map((words) => ["unknown", words]), ...check.reasons].sort(
    ([a], [b]) => order.indexOf(a) - order.indexOf(b),
  );
  byId("word").dataset.word = word;
  fill(
    byId("word"),
    el("strong", {}, SHAPES[word]),
    reasons.length
      ? `${reasons[0][1]}${reasons.length > 1 ? ` (1 of ${reasons.length})` : ""}`
      : "",
  );
  show(byId("reasons-panel"), reasons.length > 0);
  fill(
    byId("reasons"),
    reasons.map(([one, reason]) => el("li", {}, wordMark(one), ` ${reason}`)),
  );
}

function save(event) {
  let seen = null;
  return life.save(event, {
    problems: () => {
      seen = look();
      return (
        seen.lacking[0] ??
        (isHalfFilled(values) ? "" : "Record something first: a figure, an answer, a note.")
      );
    },
    entry: () => stopEntry(values, seen.body, seen.check.word, { ...place, now: nowIso() }),
    done: () =>
      showSaved(
        form,
        el("p", { class: "big" }, stateMark("on this phone")),
        el(
          "p",
          {},
          wordMark(seen.check.word),
          ` ${seen.check.reasons.map(([, reason]) => reason).join("; ")}`,
        ),
        el(
          "p",
          {},
          el("a", { class: "button main", href: byId("back").href }, "Back to the stops"),
        ),
      ),
  });
}

startPage(open);

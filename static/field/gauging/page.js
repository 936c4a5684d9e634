/**
 * A check gauging on the phone: choose the method, read the staff, measure, read it again, and see
 * discharge and verdict before leaving.
 *
 * Address: ?structure=ID with visit=UUID, or correct=UUID to correct a stored gauging, or fix=UUID
 * to put a refused one right.
 */
import { byId, el, fill, query, show } from "../../shared/dom.js";
import { toLocalBox } from "../../shared/format.js";
import { drawInstrument, remember } from "../base/instruments.js";
import { uuid7 } from "../base/uuid7.js";
import { findStructure } from "../keep/pack.js";
import { standingHere } from "../keep/standing.js";
import { dressPlace, entryForm, fillBoxes, notHere, placeOf } from "../shell/entry_form.js";
import { startPage } from "../shell/start.js";
import { drawAsk, usualStaff } from "../typed/plausible.js";
import { unitOf } from "../typed/staff_unit.js";
import { drawEarlier } from "./earlier.js";
import { emptyGauging, gaugingEntry, isHalfFilled, readGauging, valuesOf } from "./entry.js";
import { drawHeads, tellHeads } from "./heads.js";
import { METHODS, methodOf } from "./methods.js";
import { drawDock, drawResult } from "./result.js";
import { drawSaved } from "./saved.js";

const asked = query();
const form = byId("form");
let values = null;
let place = null; // {site, structure, visitId, personId, corrects, refusedId, pack}
let read = null;
let drawn = null; // what the method's form gave back, to tell it the newest sums
const life = entryForm({
  buttons: [byId("save"), byId("save-anyway")],
  title: () => `Check gauging, ${place.site.name}`,
  isHalf: (typed) => isHalfFilled(typed) || Boolean(typed.method),
  draw: update,
  noun: "gauging",
  boxOf,
});
const { typed } = life;

const HALF =
  "There is no whole discharge yet: see Result. Put it right, or keep what was observed as it is.";

const nowIso = () => new Date().toISOString();
const PLAIN = [
  "tail_text",
  "observers",
  "instrument",
  "serial",
  "calibrated",
  "tolerance",
  "start",
  "end",
  "time_reason",
  "note",
  "reason",
];

async function open(ctx, pack) {
  if (life.isSaved) return undefined;
  if (values) {
    const newer = findStructure(pack, place.structure.id);
    if (newer.structure) Object.assign(place, newer, { pack });
    return life.refresh();
  }
  const where = await placeOf(ctx, pack, ["check_gauging"]);
  const { site, structure, record } = where;
  if (!structure) return notHere("structure or gauging");
  place = { ...where, pack, stand: standingHere(pack, await ctx.outbox.all()) };
  const toBox = (iso) => toLocalBox(iso, site.utc_offset_min);
  values = await life.open(ctx, place, {
    bareKey: `gauging:${structure.id}:${record?.id ?? asked.visit ?? "alone"}:${asked.fix ? "fix" : asked.correct ? "correct" : "new"}`,
    start: () =>
      record ? valuesOf(record.entry, uuid7(), toBox) : emptyGauging(uuid7(), unitOf(site)),
  });
  dress();
  listen();
  drawMethod();
  life.refresh();
  return life.rest();
}

/** The box of a field of the body, where its name does not say it. */
function boxOf([field, part, more]) {
  if (field === "heads") return form.elements[`head_${part ?? 0}`] ?? byId("head-start");
  if (field === "tailwater") return part === "state" ? byId("tail") : form.elements.tail_text;
  if (field === "instrument")
    return form.elements[
      { last_calibration: "calibrated", serial: "serial" }[part] ?? "instrument"
    ];
  const plain = {
    started_at: "start",
    ended_at: "end",
    observed_at: "start",
    tolerance_pct: "tolerance",
  }[field];
  if (plain) return form.elements[plain];
  const method = methodOf(values.method);
  return (
    method?.boxOf?.(byId("method-form"), values.parts[method.key], [field, part, more]) ?? null
  );
}

function dress() {
  const { site, structure } = place;
  byId("title").textContent = "Check gauging";
  byId("structure").textContent =
    `${site.name} \u00b7 ${structure.name} \u00b7 ${structure.described}`;
  dressPlace(place);
  show(byId("reason-row"), Boolean(place.corrects));
  fillBoxes(form, Object.fromEntries(PLAIN.map((name) => [name, values[name]])));
  for (const box of form.elements.tail) box.checked = box.value === values.tail;
  for (const box of form.elements.control) box.checked = values.control.includes(box.value);
  form.elements.cautions_read.checked = values.cautions_read;
  if (!structure.tailwater_gauge)
    form.querySelector('[name="tail"][value="read"]').closest("label").hidden = true;
  byId("times").open = Boolean(values.start || values.end);
  fill(
    byId("methods"),
    METHODS.map((method) =>
      el(
        "button",
        {
          type: "button",
          class: "method",
          "data-method": method.key,
          onclick: () => choose(method.key),
        },
        el("strong", {}, method.title),
        el("span", {}, method.hint),
      ),
    ),
  );
  drawHeads(values, typedHead);
  drawEarlier(place);
}

function choose(key) {
  values.method = key;
  if (!place.record) values.instrument_id = null; // another method, another instrument
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
  drawInstrument(form, values, place, values.method);
  drawn =
    method.draw(byId("method-form"), values.parts[method.key], {
      changed: typed,
      pack: place.pack,
      ratedFlow: () => read?.atHead.rated?.discharge_m3s ?? null,
    }) ?? null;
}

function listen() {
  form.addEventListener("input", (event) => {
    const { name, value, type, checked } = event.target;
    if (name === "control")
      values.control = [...form.elements.control]
        .filter((box) => box.checked)
        .map((box) => box.value);
    else if (name === "instrument_id") {
      values.instrument_id = value;
      remember(values.method, value, localStorage);
      drawInstrument(form, values, place, values.method);
    } else if (name === "cautions_read") values.cautions_read = checked;
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

function update() {
  const { site, structure, pack } = place;
  read = readGauging(values, {
    structure,
    pack,
    highest: usualStaff(structure, site, nowIso()),
    utcOffsetMin: site.utc_offset_min,
    now: nowIso(),
  });
  const agree = (index, text) => {
    values.heads[index].text = form.elements[`head_${index}`].value = text;
    typed();
  };
  const agreeTail = (text) => {
    values.tail_text = form.elements.tail_text.value = text;
    typed();
  };
  const kept = (text) => {
    values.kept.push(text);
    return text;
  };
  tellHeads(values, read.boxes, {
    agree,
    keep: (index, text) => agree(index, kept(text)),
    utcOffsetMin: site.utc_offset_min,
  });
  show(byId("tail-row"), structure.tailwater_gauge && values.tail === "read");
  byId("tail-unit").textContent = values.unit;
  drawAsk(byId("tail-ask"), read.tail, { agree: agreeTail, keep: (text) => agreeTail(kept(text)) });
  const method = methodOf(values.method);
  drawn?.tell(read.gauging, read.problem);
  drawResult(read, { wadingWords: method?.wadingWords?.(read.gauging) ?? null });
  if (method) method.picture(byId("picture"), read.observed, read.gauging);
  drawOdd(read.odd);
  drawDock(read);
  if (!(read.problem ?? read.unfinished)) show(byId("save-anyway"), false);
}

/** The figure that nobody measures here, above Save, with answers of one tap. */
function drawOdd(odd) {
  const boxes = [...byId("method-form").querySelectorAll("input")];
  const box = odd && boxes.find((one) => one.value.trim() === odd.text.trim());
  const put = (text) => {
    box.value = text;
    box.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const keep = () => {
    values.kept.push(odd.key);
    typed();
  };
  const typedIt = odd
    ? [{ text: odd.text, words: `${odd.text.trim()} ${odd.unit}, as typed` }]
    : [];
  drawAsk(
    byId("figure-ask"),
    odd && { ...odd, text: null, offers: box ? odd.offers : [], typed: typedIt },
    { agree: put, keep },
  );
}

function standsInTheWay(anyway) {
  const method = methodOf(values.method);
  if (read.blocking.length) return read.blocking[0];
  if (!method.begun(values.parts[method.key])) return "Nothing is measured yet.";
  if (method.wading && !values.cautions_read)
    return "Read the caution and look at the water first, then tick the box.";
  if (place.corrects && !values.reason.trim()) return "Say why it is corrected.";
  return !anyway && (read.problem ?? read.unfinished) ? HALF : "";
}

function save(event, anyway) {
  return life.save(event, {
    problems: () => {
      const problem = standsInTheWay(anyway);
      // only once somebody has asked to save and been told what is wrong
      show(byId("save-anyway"), !anyway && problem === HALF);
      return problem;
    },
    entry: () => gaugingEntry(values, read, { ...place, now: nowIso() }),
    done: (entry) => drawSaved(form, entry, place),
  });
}

startPage(open);

/**
 * Opening the gate: steps, timed heads until steady, seeps, sensor and clock, fit to record.
 *
 * Address: ?structure=ID with visit=UUID; fix=UUID puts a refused one right.
 */
import { byId, el, fill, show } from "../../shared/dom.js";
import { siteTime, toLocalBox } from "../../shared/format.js";
import { stateMark } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
import { inForce } from "../keep/pack.js";
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
import { askLength, drawAsk } from "../typed/plausible.js";
import { unitOf } from "../typed/staff_unit.js";
import {
  emptyOpening,
  HIGHEST_M,
  isHalfFilled,
  openingEntry,
  openPoints,
  problems,
  SEEP_STATES,
  SEEPS,
  steadyNow,
  TEXTS,
  timedHead,
  usualOpening,
} from "./entry.js";
import { drawOpening } from "./view.js";

const form = byId("form");
let place = null;
let values = null;
let photos = null;
const kept = []; // figures of the boxes that the person said are right as typed
const dry = []; // and of which they said that nothing flows

const nowIso = () => new Date().toISOString();
const life = entryForm({
  title: () => `Opening, ${place.site.name}`,
  isHalf: isHalfFilled,
  draw: update,
  boxOf,
});
const { typed, say } = life;

async function open(ctx, pack) {
  if (life.isSaved) return undefined;
  const where = await placeOf(ctx, pack, ["opening"]);
  const { structure, record } = where;
  if (!structure) return values ? undefined : notHere("structure or entry");
  const gaugings = (await ctx.outbox.all()).filter(
    ({ entry, state }) =>
      entry.kind === "check_gauging" && entry.structure_id === structure.id && state !== "replaced",
  );
  place = { ...where, gaugings };
  if (values) {
    photos.draw();
    return life.refresh();
  }
  const back =
    record && (await import("./correct.js")).valuesOfOpening(record.entry, uuid7(), where.site);
  values = await life.open(ctx, place, {
    bareKey: record ? `opening:${structure.id}:${record.id}` : `opening:${structure.id}`,
    start: () => back ?? emptyOpening(uuid7(), unitOf(where.site)),
  });
  dress(ctx);
  listen();
  life.refresh();
  return life.rest();
}

/** The box of a field of the body, where its name does not say it. */
function boxOf([field, part]) {
  const row = (list) => byId(list).children[part] ?? byId(list);
  if (field === "gate") return part === undefined ? form.elements.gate_text : row("gate-list");
  if (field === "heads") return part === undefined ? form.elements.staff_text : row("head-list");
  if (field === "seeps")
    return form.querySelector(`[name="seeps.${part}"]`)?.closest("fieldset") ?? byId("seeps");
  if (field === "sensor")
    return form.elements[
      { before_m: "sensor_before", after_m: "sensor_after" }[part] ?? "sensor_staff"
    ];
  if (field === "clock")
    return part === "right" ? byId("clock-now") : form.elements[`clock_${part ?? "before"}`];
  return field === "gauging_ids" ? byId("gaugings") : null;
}

function dress(context) {
  const { site, structure, name } = place;
  byId("structure").textContent = `${site.name} \u00b7 ${structure.name}`;
  dressPlace(place);
  document.querySelectorAll(".unit-word").forEach((node) => (node.textContent = values.unit));
  byId("fit-who").textContent = `I, ${name}, say that this station is fit to record`;
  fillBoxes(form, Object.fromEntries([...TEXTS, "fit"].map((key) => [key, values[key]])));
  fill(
    byId("seeps"),
    Object.entries(SEEPS).map(([key, words]) =>
      el(
        "fieldset",
        { class: "choice three" },
        el("legend", {}, words),
        SEEP_STATES.map((state) =>
          el(
            "label",
            {},
            el("input", {
              type: "radio",
              name: `seeps.${key}`,
              value: state,
              checked: values.seeps[key] === state,
            }),
            el("span", {}, state),
          ),
        ),
      ),
    ),
  );
  photos = photoBox(
    context,
    () => ({ ...place, of: values.id, before: place.record?.id, place: "opening" }),
    {
      hint: "Seeps, the tail, the staff with its water line.",
    },
  );
  byId("photos").append(photos.node);
}

function listen() {
  form.addEventListener("input", ({ target }) => {
    const { name, value } = target;
    if (name.startsWith("seeps.")) values.seeps[name.slice(6)] = value;
    else if (name === "gauging")
      values.gaugings = [...form.querySelectorAll('[name="gauging"]:checked')].map(
        (box) => box.value,
      );
    else if (name === "fit") setFit(target.checked);
    else if (TEXTS.includes(name)) values[name] = value;
    typed();
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    if (event.target.name === "staff_text") readNow();
  });
  form.addEventListener("submit", save);
  byId("gate-now").addEventListener("click", gateNow);
  byId("head-now").addEventListener("click", readNow);
  byId("clock-now").addEventListener("click", () => {
    values.clock_right = nowIso();
    typed();
  });
}

function setFit(yes) {
  values.fit = yes;
  if (yes)
    values.fit_from = form.elements.fit_from.value =
      values.fit_from || toLocalBox(nowIso(), place.site.utc_offset_min);
  if (yes && !values.fit_words.trim())
    values.fit_words = form.elements.fit_words.value = found().open.join("; ");
}

function gateNow() {
  const opening = values.gate_text.trim();
  if (!opening) return say("Say how far the gate is open.");
  values.gate.push({ at: nowIso(), opening });
  values.gate_text = form.elements.gate_text.value = "";
  return typed();
}

function readNow() {
  const { structure, site } = place;
  const text = values.staff_text;
  const staff = askLength(
    text,
    values.unit,
    usualOpening(structure, site, values.heads, nowIso()),
    kept,
  );
  const tail = askLength(values.tail_text, values.unit, HIGHEST_M, kept);
  const doubtful = [staff, tail].find((one) => one?.problem || one?.question);
  if (!staff || doubtful?.problem)
    return fill(byId("head-ask"), staff ? doubtful.problem : "Type the staff reading.");
  if (doubtful) {
    const name = doubtful === staff ? "staff_text" : "tail_text";
    const keep = (figure) => {
      kept.push(figure);
      agree(name, figure);
    };
    const saidDry = () => {
      dry.push(text);
      keep(text);
    };
    return drawAsk(byId("head-ask"), doubtful, {
      agree: (figure) => agree(name, figure),
      keep,
      dry: doubtful === staff ? saidDry : null,
    });
  }
  fill(byId("head-ask"));
  values.heads.push(timedHead({ staff, tail, text, dry, at: nowIso() }));
  for (const name of ["staff_text", "tail_text"]) values[name] = form.elements[name].value = "";
  form.elements.staff_text.focus();
  return typed();
}

function agree(name, text) {
  values[name] = form.elements[name].value = text;
  readNow();
}

function takeBack(list, index) {
  values[list].splice(index, 1);
  typed();
}

function found() {
  const { structure, site } = place;
  const [zero, rating] = [
    inForce(structure.gauge_zeros, nowIso()),
    inForce(structure.ratings, nowIso()),
  ];
  return {
    steady: steadyNow(values, structure),
    open: openPoints(values, structure, zero, rating, site.utc_offset_min),
  };
}

function update() {
  const { steady, open: points } = found();
  drawOpening(values, place, steady, takeBack);
  fill(
    byId("open-points"),
    points.map((words) => el("li", {}, words)),
  );
  show(byId("fit-rows"), values.fit);
}

const fitWords = (from) =>
  from
    ? `Fit to record from ${siteTime(from, place.site.utc_offset_min)}, said by ${place.name}.`
    : "Not yet said to be fit to record.";

function save(event) {
  let said = null;
  return life.save(event, {
    problems: () => problems(values, { utcOffsetMin: place.site.utc_offset_min, now: nowIso() })[0],
    entry: () => {
      said = found();
      return openingEntry(values, said, { ...place, now: nowIso() });
    },
    done: (entry) =>
      showSaved(
        form,
        el("p", { class: "big" }, stateMark("on this phone")),
        el("p", {}, `Head ${said.steady.word}. ${fitWords(entry.body.fit_from)}`),
        said.open.length
          ? el(
              "ul",
              { class: "words-list" },
              said.open.map((words) => el("li", {}, words)),
            )
          : null,
        el("p", {}, el("a", { class: "button main", href: byId("back").href }, "Back")),
      ),
  });
}

startPage(open);

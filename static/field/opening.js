/**
 * Opening the gate: steps, timed heads until steady, seeps, sensor and clock, fit to record.
 *
 * Address: ?structure=ID with visit=UUID.
 */
import { address, byId, el, fill, query, show } from "./dom.js";
import { offsetWords, siteTime, toLocalBox } from "./format.js";
import { readLength } from "./plausible.js";
import {
  emptyOpening,
  isHalfFilled,
  openingEntry,
  openPoints,
  problems,
  SEEPS,
  SEEP_STATES,
  steadyNow,
  TEXTS,
} from "./opening_entry.js";
import { drawOpening } from "./opening_view.js";
import { findStructure, inForce } from "./pack.js";
import { photoBox } from "./photos_box.js";
import { setHalfFilled, startPage } from "./shell.js";
import { stateMark } from "./states.js";
import { uuid7 } from "./uuid7.js";

const asked = query();
const form = byId("form");
let place = null;
let values = null;
let context = null;
let draftKey = "";
let photos = null;

const nowIso = () => new Date().toISOString();

async function open(ctx, pack) {
  const { site, structure } = findStructure(pack, asked.structure);
  if (!structure) {
    if (values) return;
    byId("title").textContent = "Not on this phone";
    fill(form, el("p", {}, "This phone does not hold that structure yet. Go back to the sites."));
    return;
  }
  const gaugings = (await ctx.outbox.all()).filter(
    ({ entry, state }) =>
      entry.kind === "check_gauging" && entry.structure_id === structure.id && state !== "replaced",
  );
  place = {
    site,
    structure,
    gaugings,
    personId: pack.person.id,
    name: pack.person.name,
    visitId: asked.visit ?? null,
  };
  if (values) {
    photos.draw();
    update();
    return;
  }
  context = ctx;
  draftKey = `opening:${structure.id}`;
  const draft = await ctx.drafts.get(draftKey);
  values = draft?.values ?? emptyOpening(uuid7(), site.head_unit);
  dress(Boolean(draft));
  listen();
  update();
}

function dress(restored) {
  const { site, structure, visitId, name } = place;
  byId("structure").textContent = `${site.name} \u00b7 ${structure.name}`;
  byId("back").href = address(visitId ? "/field/visit" : "/field/site", {
    id: visitId ? null : site.id,
    visit: visitId,
  });
  byId("back").lastChild.textContent = visitId ? " Visit" : ` ${site.name}`;
  document.querySelectorAll(".zone").forEach((node) => (node.textContent = `(${offsetWords(site.utc_offset_min)})`));
  document.querySelectorAll(".unit-word").forEach((node) => (node.textContent = values.unit));
  byId("fit-who").textContent = `I, ${name}, say that this station is fit to record`;
  for (const key of TEXTS) form.elements[key].value = values[key];
  form.elements.fit.checked = values.fit;
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
            el("input", { type: "radio", name: `seeps.${key}`, value: state, checked: values.seeps[key] === state }),
            el("span", {}, state),
          ),
        ),
      ),
    ),
  );
  if (restored)
    byId("structure").after(
      el(
        "p",
        { class: "notice", id: "restored" },
        "Your half-filled form is back. ",
        el("button", { type: "button", onclick: discard }, "Discard it"),
      ),
    );
  photos = photoBox(context, () => ({ ...place, of: values.id, place: "opening" }), {
    hint: "Seeps, the tail, the staff with its water line.",
  });
  byId("photos").append(photos.node);
}

function listen() {
  form.addEventListener("input", ({ target }) => {
    const { name, value } = target;
    if (name.startsWith("seeps.")) values.seeps[name.slice(6)] = value;
    else if (name === "gauging")
      values.gaugings = [...form.querySelectorAll('[name="gauging"]:checked')].map((box) => box.value);
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
  if (yes && !values.fit_words.trim()) values.fit_words = form.elements.fit_words.value = found().open.join("; ");
}

function gateNow() {
  const opening = values.gate_text.trim();
  if (!opening) return say("Say how far the gate is open.");
  values.gate.push({ at: nowIso(), opening });
  values.gate_text = form.elements.gate_text.value = "";
  return typed();
}

function readNow() {
  const highest = 3;
  const staff = values.staff_text.trim() ? readLength(values.staff_text, values.unit, highest) : null;
  const tail = values.tail_text.trim() ? readLength(values.tail_text, values.unit, highest) : null;
  const doubtful = [staff, tail].find((one) => one?.problem || one?.question);
  if (!staff || doubtful?.problem)
    return fill(byId("head-ask"), staff ? doubtful.problem : "Type the staff reading.");
  if (doubtful)
    return fill(
      byId("head-ask"),
      el(
        "button",
        {
          type: "button",
          class: "agree",
          onclick: () => agree(doubtful === staff ? "staff_text" : "tail_text", doubtful.text),
        },
        doubtful.question,
      ),
    );
  fill(byId("head-ask"));
  values.heads.push({ at: nowIso(), staff_m: staff.metres, tail_staff_m: tail?.metres ?? null });
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

function typed() {
  const half = isHalfFilled(values);
  setHalfFilled(half);
  const page = { href: location.pathname + location.search, title: `Opening, ${place.site.name}` };
  const kept = half ? context.drafts.keep(draftKey, structuredClone(values), page) : context.drafts.discard(draftKey);
  kept.catch((error) => say(`This phone cannot keep the draft: ${error.message}. Write the figures on paper too.`));
  say("");
  update();
}

function say(words) {
  byId("problem").textContent = words;
  show(byId("problem"), Boolean(words));
}

function found() {
  const { structure, site } = place;
  const [zero, rating] = [inForce(structure.gauge_zeros, nowIso()), inForce(structure.ratings, nowIso())];
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

async function discard() {
  await context.drafts.discard(draftKey);
  location.reload();
}

const fitWords = (from) =>
  from
    ? `Fit to record from ${siteTime(from, place.site.utc_offset_min)}, said by ${place.name}.`
    : "Not yet said to be fit to record.";

async function save(event) {
  event.preventDefault();
  const problem = problems(values)[0] ?? "";
  say(problem);
  if (problem) return;
  byId("save").disabled = true;
  try {
    const said = found();
    const entry = openingEntry(values, said, { ...place, now: nowIso() });
    await context.drafts.settle();
    await context.outbox.hold(entry, draftKey);
    setHalfFilled(false);
    show(form, false);
    byId("restored")?.remove();
    fill(
      byId("saved"),
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
    );
    show(byId("saved"), true);
    window.scrollTo(0, 0);
    await context.showState();
    context.send();
  } catch (error) {
    byId("save").disabled = false;
    say(`NOT saved: ${error.message}. The form is still here; write the figures on paper too.`);
  }
}

startPage(open);

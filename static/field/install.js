/**
 * The stops of setting a flume, recorded one by one, each with its stop-or-go word.
 *
 * Address: ?structure=ID lists them; &stop=S3 records one; with visit=UUID.
 */
import { address, byId, el, fill, query, show } from "./dom.js";
import { siteTime } from "./format.js";
import { checkStop, emptyStop, isHalfFilled, stopBody, stopEntry, stopsSoFar } from "./install_entry.js";
import { drawDimensions } from "./install_dimensions.js";
import { PARTS } from "./install_parts.js";
import { findStructure } from "./pack.js";
import { photoBox } from "./photos_box.js";
import { setHalfFilled, startPage } from "./shell.js";
import { standingHere } from "./standing.js";
import { stateMark } from "./states.js";
import { uuid7 } from "./uuid7.js";

const asked = query();
const form = byId("form");
const SHAPES = { stop: "\u25a0 stop", go: "\u25b6 go", unknown: "? not known", noted: "noted" };
let place = null; // {site, structure, stop, personId, visitId, earlier}
let values = null;
let context = null;
let draftKey = "";
let photos = null;

const nowIso = () => new Date().toISOString();

async function open(ctx, pack) {
  context = ctx;
  const { site, structure } = findStructure(pack, asked.structure);
  if (!structure || !pack.survey) {
    byId("title").textContent = "Not on this phone";
    show(byId("sequence"), false);
    byId("structure").textContent = "This phone does not hold that structure yet. Go back to the sites.";
    return;
  }
  const { stops, cautions } = pack.survey;
  const survey = pack.survey.structures[structure.id];
  const records = await ctx.outbox.all();
  const earlier = stopsSoFar(survey, records, structure.id, standingHere(pack, records));
  const stop = stops.find(({ key }) => key === asked.stop) ?? null;
  place = {
    site,
    structure,
    stop,
    stops,
    personId: pack.person.id,
    visitId: asked.visit ?? null,
    earlier,
    dimensions: survey?.dimensions ?? [],
  };
  byId("structure").textContent = `${site.name} \u00b7 ${structure.name} \u00b7 ${structure.described}`;
  back();
  if (!stop) return drawSequence(cautions);
  if (values) {
    photos.draw();
    return update();
  }
  draftKey = `install:${structure.id}:${stop.key}`;
  const draft = await ctx.drafts.get(draftKey);
  values = draft?.values ?? emptyStop(uuid7(), stop.key);
  dress(cautions, Boolean(draft));
  return update();
}

function back() {
  const { site, structure, stop, visitId } = place;
  const link = byId("back");
  if (stop) link.href = address("/field/install", { structure: structure.id, visit: visitId });
  else
    link.href = address(visitId ? "/field/visit" : "/field/site", { id: visitId ? null : site.id, visit: visitId });
  link.lastChild.textContent = stop ? " Stops" : visitId ? " Visit" : ` ${site.name}`;
}

const wordMark = (word) => el("span", { class: "word-mark", "data-word": word }, SHAPES[word]);

function drawSequence(cautions) {
  const { structure, stops, earlier, visitId, site } = place;
  fill(
    byId("all-cautions"),
    ["certify", "trench", "water", "lifting", "concrete"].map((key) => el("li", {}, cautions[key])),
  );
  fill(
    byId("stops"),
    stops.map((stop) => {
      const mine = earlier.filter(({ body }) => body.stop === stop.key);
      const last = mine.at(-1);
      const word = last
        ? checkStop(
            last.body,
            earlier.slice(0, earlier.indexOf(last)).map(({ body }) => body),
            stop,
          ).word
        : null;
      return el(
        "li",
        {},
        el(
          "a",
          {
            class: "stop-row",
            href: address("/field/install", { structure: structure.id, stop: stop.key, visit: visitId }),
          },
          el("span", { class: "key" }, stop.key),
          el("strong", {}, stop.title),
          el("span", {}, stop.check),
          last
            ? el(
                "span",
                { class: "line" },
                wordMark(word),
                el(
                  "span",
                  {},
                  `${last.body.moment ? `${last.body.moment} ` : ""}${siteTime(last.observed_at, site.utc_offset_min)}${mine.length > 1 ? `, recorded ${mine.length} times` : ""}`,
                ),
              )
            : el("span", { class: "aside" }, "not recorded yet"),
        ),
      );
    }),
  );
  return undefined;
}

function dress(cautions, restored) {
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
  fill(byId("seen"), stop.asks.map(askRow));
  const parts = stop.parts.filter((part) => PARTS[part]);
  fill(byId("parts"), parts.map(partPanel));
  byId("parts").className = byId("seen").className = "stack";
  for (const name of ["weather", "note"]) form.elements[name].value = values[name];
  for (const name of ["moment", "went_on"])
    for (const box of form.elements[name]) box.checked = box.value === values[name];
  if (restored)
    form.before(
      el(
        "p",
        { class: "notice", id: "restored" },
        "Your half-filled stop is back. ",
        el("button", { type: "button", onclick: discard }, "Discard it"),
      ),
    );
  else carryReference();
  form.addEventListener("input", typed);
  form.addEventListener("submit", save);
  photos = photoBox(context, () => ({ ...place, of: values.id, place: `${stop.key} ${stop.title}` }), {
    hint: "Show what the figures cannot: bracing, straps, the level on the crest.",
  });
  byId("photos").append(photos.node);
  if (stop.parts.includes("dimensions")) drawDimensions(byId("dimensions"), context, place);
}

/** The mark of the last stop is offered again, so that levels are over one datum. */
function carryReference() {
  const last = place.earlier
    .map(({ body }) => body.corners)
    .filter(Boolean)
    .at(-1);
  if (!last || !form.elements.reference) return;
  for (const [name, value] of [
    ["reference", last.reference],
    ["reference_rl_m", String(last.reference_rl_m)],
  ]) {
    form.elements[name].value = values.fields[name] = value;
  }
}

function askRow({ key, text }) {
  const choice = (value) =>
    el(
      "label",
      {},
      el("input", { type: "radio", name: `seen.${key}`, value, checked: values.seen[key] === value }),
      el("span", {}, value),
    );
  return el("fieldset", { class: "yes-no" }, el("legend", {}, text), choice("yes"), choice("no"));
}

function partPanel(part) {
  const { title, hint, fields } = PARTS[part];
  return el(
    "section",
    { class: "panel part", "aria-label": title },
    el("h2", {}, title),
    hint ? el("p", { class: "aside" }, hint) : null,
    el("div", { class: "grid" }, fields.map(fieldBox)),
    el("div", { class: "said", id: `said-${part}` }),
  );
}

function fieldBox([name, label, unit]) {
  const value = values.fields[name] ?? "";
  if (Array.isArray(unit)) {
    const options = ["", ...unit].map((one) =>
      el("option", { value: one, selected: one === value }, one || "not known"),
    );
    return el("label", { class: "field" }, label, el("select", { name }, options));
  }
  const isText = unit === "text";
  const words = isText || !unit ? label : `${label}, ${unit.replace(" list", "")}`;
  const input = el("input", {
    name,
    type: "text",
    inputmode: isText || unit === "m list" ? null : "decimal",
    maxlength: isText ? "200" : unit === "m list" ? "80" : "12",
  });
  input.value = value;
  return el("label", { class: isText && name !== "reference" ? "field wide" : "field" }, words, input);
}

function typed({ target }) {
  const { name, value } = target;
  if (name.startsWith("seen.")) values.seen[name.slice(5)] = value;
  else if (["moment", "went_on", "weather", "note"].includes(name)) values[name] = value;
  else values.fields[name] = value;
  const half = isHalfFilled(values);
  setHalfFilled(half);
  const page = { href: location.pathname + location.search, title: `${place.stop.key}, ${place.site.name}` };
  const kept = half ? context.drafts.keep(draftKey, structuredClone(values), page) : context.drafts.discard(draftKey);
  kept.catch((error) => say(`This phone cannot keep the draft: ${error.message}. Write the figures on paper too.`));
  say("");
  update();
}

function say(words) {
  byId("problem").textContent = words;
  show(byId("problem"), Boolean(words));
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
    reasons.length ? `${reasons[0][1]}${reasons.length > 1 ? ` (1 of ${reasons.length})` : ""}` : "",
  );
  show(byId("reasons-panel"), reasons.length > 0);
  fill(
    byId("reasons"),
    reasons.map(([one, reason]) => el("li", {}, wordMark(one), ` ${reason}`)),
  );
}

function practice(part, check) {
  const wanted = { tail: "fall", lift: "base" }[part];
  const note = wanted ? check.practice.find(({ what }) => what.startsWith(wanted)) : null;
  if (!note) return null;
  return el(
    "p",
    { class: note.near ? "aside" : "problem" },
    `${note.what}: ${note.value.toFixed(2)}; ${note.usual} is common practice.`,
  );
}

async function discard() {
  await context.drafts.discard(draftKey);
  location.reload();
}

async function save(event) {
  event.preventDefault();
  const { body, lacking, check } = look();
  const problem = lacking[0] ?? (isHalfFilled(values) ? "" : "Record something first: a figure, an answer, a note.");
  say(problem);
  if (problem) return;
  byId("save").disabled = true;
  try {
    const entry = stopEntry(values, body, check.word, { ...place, now: nowIso() });
    await context.drafts.settle();
    await context.outbox.hold(entry, draftKey);
    setHalfFilled(false);
    show(form, false);
    byId("restored")?.remove();
    fill(
      byId("saved"),
      el("p", { class: "big" }, stateMark("on this phone")),
      el("p", {}, wordMark(check.word), ` ${check.reasons.map(([, reason]) => reason).join("; ")}`),
      el("p", {}, el("a", { class: "button main", href: byId("back").href }, "Back to the stops")),
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

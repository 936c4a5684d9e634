/** As-built dimensions of a structure, measured in mm, repeats with spaces between. */
import { el } from "../../shared/dom.js";
import { stateMark } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
import { entryForm } from "../shell/entry_form.js";
import { observedAt } from "../typed/text.js";
import { dimensionBody } from "./as_built.js";

const isHalf = ({ texts }) => Object.values(texts).some((text) => text.trim());

/** Those of the structure, and whatever an entry that is put right holds besides. */
function wantedDimensions({ dimensions, record }) {
  const named = dimensions.length
    ? dimensions
    : [{ key: "throat_width", label: "Throat width", named_m: null }];
  const known = new Set(named.map(({ key }) => key));
  const more = (record?.entry.body.dimensions ?? []).filter(({ key }) => !known.has(key));
  return [...named, ...more.map(({ key, label }) => ({ key, label: label || key, named_m: null }))];
}

export async function drawDimensions(box, context, place) {
  const { site, structure, record } = place;
  const dimensions = wantedDimensions(place);
  const back = record ? (await import("./correct.js")).textsOfDimensions(record.entry) : {};
  const sure = record?.entry.body.as_typed ?? []; // figures that the person said are right as typed
  const ask = el("div", { class: "ask" });
  const problem = el("p", { class: "problem", role: "alert" });
  const kept = el("p", { role: "status" });
  const row = ({ key: name, label, named_m }) => {
    const input = el("input", {
      name,
      type: "text",
      maxlength: "60",
      placeholder: named_m ? `named ${Math.round(named_m * 1e4) / 10}` : "",
    });
    return el("label", { class: "field" }, `${label}, mm`, input);
  };
  const form = el(
    "form",
    { class: "panel", autocomplete: "off", novalidate: true, "aria-label": "As-built dimensions" },
    el("h2", {}, "As-built dimensions"),
    el(
      "p",
      { class: "aside" },
      "Measure what was built, not what was named. Several measurements of one dimension: with spaces between.",
    ),
    place.dimensions.length
      ? null
      : el("p", {}, "This kind of structure names no lengths. Measure the throat width."),
    dimensions.map(row),
    el(
      "label",
      { class: "field" },
      "Measured with",
      el("input", { name: "instrument", maxlength: "200" }),
    ),
    problem,
    ask,
    kept,
    el("button", {}, "Save the dimensions"),
  );
  /** The figure asked about, with its answers: one tap puts one in its place in the box. */
  function drawAsked(one) {
    const answer = (text) => {
      const box = form.elements[one.key];
      if (text === one.one) life.values.sure = [...(life.values.sure ?? []), text];
      box.value = box.value
        .split(/(?<=[\s;])|(?=[\s;])/)
        .map((part) => (part === one.one ? text : part))
        .join("");
      box.dispatchEvent(new Event("input", { bubbles: true }));
      form.requestSubmit();
    };
    ask.replaceChildren(
      ...(one?.answers ?? []).map((text) =>
        el(
          "button",
          { type: "button", class: "agree", onclick: () => answer(text) },
          text === one.one ? `${text} mm, as typed` : `${text} mm?`,
        ),
      ),
    );
  }

  box.replaceChildren(form);
  const life = entryForm({
    form,
    problem,
    buttons: [form.querySelector("button")],
    title: () => `Dimensions, ${site.name}`,
    isHalf,
    boxOf: ([field, index]) =>
      field === "dimensions" ? form.elements[record.entry.body.dimensions[index]?.key] : null,
  });
  const begin = async () => {
    const bareKey = `dimensions:${structure.id}${record ? `:${record.id}` : ""}`;
    const { texts } = await life.open(context, place, {
      bareKey,
      start: () => ({ id: uuid7(), texts: { ...back }, sure: [...sure] }),
    });
    for (const [name, text] of Object.entries(texts))
      if (form.elements[name]) form.elements[name].value = text;
    life.rest();
  };
  form.addEventListener("input", ({ target }) => {
    ask.replaceChildren();
    life.values.texts[target.name] = target.value;
    life.typed();
  });
  form.addEventListener("submit", (event) => {
    let found = null;
    life.save(event, {
      problems: () => {
        const { texts, sure: asTyped = [] } = life.values; // a draft of an earlier release has none
        found = dimensionBody(texts, dimensions, texts.instrument ?? "", asTyped);
        drawAsked(found.asked);
        return found.problem;
      },
      entry: () => dimensionEntry(life.values.id, found.body, place, new Date().toISOString()),
      done: async () => {
        kept.replaceChildren(
          stateMark("on this phone"),
          ` ${found.body.dimensions.map(({ label }) => label).join(", ")}`,
        );
        form.reset();
        if (record)
          form.querySelector("button").remove(); // put right: there is no second one
        else await begin();
      },
    });
  });
  await begin();
}

function dimensionEntry(id, body, { site, structure, visitId, personId, record }, now) {
  return {
    id,
    kind: "dimension_check",
    site_id: site.id,
    structure_id: structure.id,
    visit_id: visitId,
    observed_at: observedAt({ record }, now),
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: null,
    reason: null,
    body,
  };
}

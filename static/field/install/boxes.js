/** The boxes of a stop: questions, figures of its parts, and the common practice beside them. */
import { el } from "../../shared/dom.js";
import { PARTS } from "./parts.js";

/** A question of the stop: yes or no. */
export function askRow({ key, text }, values) {
  const choice = (value) =>
    el(
      "label",
      {},
      el("input", {
        type: "radio",
        name: `seen.${key}`,
        value,
        checked: values.seen[key] === value,
      }),
      el("span", {}, value),
    );
  return el("fieldset", { class: "yes-no" }, el("legend", {}, text), choice("yes"), choice("no"));
}

/** The boxes of a part of the stop, as typed so far. */
export function partPanel(part, values) {
  const { title, hint, fields } = PARTS[part];
  return el(
    "section",
    { class: "panel part", "aria-label": title },
    el("h2", {}, title),
    hint ? el("p", { class: "aside" }, hint) : null,
    el(
      "div",
      { class: "grid" },
      inPlace(fields, (field) => fieldBox(field, values)),
    ),
    el("div", { class: "said", id: `said-${part}` }),
  );
}

/** Corners lie in the form as they lie on the ground for who looks downstream; all else in order. */
function inPlace(fields, boxOf) {
  const first = fields.findIndex(([name]) => name === "corner_ul");
  if (first < 0) return fields.map(boxOf);
  const [ul, ur, dl, dr] = fields.slice(first, first + 4).map(boxOf);
  const flow = el("p", { class: "flow" }, "\u2191 flow; you look downstream");
  const ground = el("div", { class: "ground" }, dl, dr, flow, ul, ur);
  return [...fields.slice(0, first).map(boxOf), ground, ...fields.slice(first + 4).map(boxOf)];
}

function fieldBox([name, label, unit], values) {
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
  return el(
    "label",
    { class: isText && name !== "reference" ? "field wide" : "field" },
    words,
    input,
  );
}

export function practice(part, check) {
  const wanted = { tail: "fall", lift: "base" }[part];
  const note = wanted ? check.practice.find(({ what }) => what.startsWith(wanted)) : null;
  if (!note) return null;
  return el(
    "p",
    { class: note.near ? "aside" : "problem" },
    `${note.what}: ${note.value.toFixed(2)}; ${note.usual} is common practice.`,
  );
}

/** Boxes that the gauging methods share: a figure with its unit, lists of figures, a stopwatch. */
import { el, fill } from "../../shared/dom.js";
import { watchNumber } from "../typed/number_ask.js";

/** One figure with its label and unit; `set` hears every key. */
export function figureBox({
  label,
  unit = "",
  value = "",
  set,
  hint = "",
  name = null,
  large = false,
}) {
  const input = el("input", {
    type: "text",
    inputmode: "decimal",
    enterkeyhint: "next",
    maxlength: "20",
    name,
    class: large ? "figure" : null,
  });
  input.value = value;
  input.addEventListener("input", () => set(input.value));
  return el(
    "label",
    { class: "field" },
    el("span", {}, label),
    el(
      "span",
      { class: "with-unit" },
      input,
      unit ? el("span", { class: "unit-text" }, unit) : null,
    ),
    watchNumber(input, unit),
    hint ? el("span", { class: "hint" }, hint) : null,
  );
}

export function textBox({ label, value = "", set, name = null, placeholder = null }) {
  const input = el("input", { maxlength: "200", name, placeholder });
  input.value = value;
  input.addEventListener("input", () => set(input.value));
  return el("label", { class: "field" }, label, input);
}

/** Two or three words side by side, one of them chosen. */
export function choice({ legend, name, options, value, set }) {
  return el(
    "fieldset",
    { class: options.length > 3 ? "choice" : "choice three" },
    el("legend", {}, legend),
    options.map(([key, words]) => {
      const input = el("input", { type: "radio", name, value: key });
      input.checked = key === value;
      input.addEventListener("change", () => input.checked && set(key));
      return el("label", {}, input, el("span", {}, words));
    }),
  );
}

export function tick({ label, checked, set }) {
  const input = el("input", { type: "checkbox" });
  input.checked = checked;
  input.addEventListener("change", () => set(input.checked));
  return el("label", { class: "tick" }, input, el("span", {}, label));
}

export const button = (words, onclick, kind = null) =>
  el("button", { type: "button", class: kind, onclick }, words);

export const more = (words, ...children) =>
  el("details", {}, el("summary", {}, words), el("div", { class: "inside" }, ...children));

/**
 * Repeats of one figure: a box each and a button for one more. `list` is changed in place, empty
 * boxes are left out later.
 */
export function figureList({ label, unit, list, changed, name = null, addWords = "One more" }) {
  const boxes = el("div", { class: "boxes" });
  const part = el("fieldset", {}, el("legend", {}, `${label}, ${unit}`), boxes);
  const add = (index) => {
    const input = el("input", {
      type: "text",
      inputmode: "decimal",
      enterkeyhint: "next",
      maxlength: "20",
      name,
      "aria-label": `${label} ${index + 1}, ${unit}`,
    });
    input.value = list[index];
    input.addEventListener("input", () => {
      list[index] = input.value;
      changed();
    });
    boxes.append(input, watchNumber(input, unit));
    return input;
  };
  if (list.length === 0) list.push("");
  list.forEach((_, index) => add(index));
  const put = (text) => {
    const free = list.findIndex((each) => !String(each).trim());
    const index = free < 0 ? list.length : free;
    list[index] = text;
    const input = boxes.querySelectorAll("input")[index] ?? add(index);
    input.value = text;
    changed();
    return input;
  };
  part.append(
    button(addWords, () => {
      list.push("");
      add(list.length - 1).focus();
    }),
  );
  return { part, put };
}

/** Tap to start, tap to stop; the seconds go to `take`. The screen stays on meanwhile. */
export function stopwatch(take, words = "Start the watch") {
  let started = null;
  let timer = null;
  let lock = null;
  const node = button(words, () => (started === null ? start() : stop()), "watch");
  const seconds = () => (performance.now() - started) / 1000;
  function start() {
    started = performance.now();
    timer = setInterval(() => fill(node, `Stop: ${seconds().toFixed(1)} s`), 100);
    fill(node, "Stop: 0.0 s");
    navigator.wakeLock
      ?.request("screen")
      .then((got) => (lock = got))
      .catch(() => {}); // a wish
  }
  function stop() {
    const took = seconds();
    clearInterval(timer);
    started = null;
    lock?.release().catch(() => {});
    fill(node, words);
    take(took.toFixed(1));
  }
  return node;
}

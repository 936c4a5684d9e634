/** The trace of a gulp: typed line by line, pasted, or from a file. */
import { el } from "../../../../shared/dom.js";
import { parseNumber } from "../../../../shared/numbers.js";
import { blank } from "../../figures.js";
import { button, figureBox } from "../../inputs.js";
import { nextLine } from "../trace.js";

export function traceBoxes(part, set, changed) {
  const area = el("textarea", {
    rows: "6",
    class: "trace-text",
    name: "trace_text",
    spellcheck: "false",
    "aria-label": "Trace, one reading a line: seconds, conductivity, second probe",
  });
  area.value = part.text;
  area.addEventListener("input", () => {
    part.text = area.value;
    changed();
  });
  area.addEventListener("paste", () => {
    part.from = "pasted";
  });
  const next = figureBox({
    label: "Next reading",
    unit: "\u00b5S/cm",
    value: part.next,
    set: set("next"),
  });
  const second = figureBox({
    label: "Second probe",
    unit: "\u00b5S/cm",
    value: part.nextSecond,
    set: set("nextSecond"),
  });
  const file = el("input", {
    type: "file",
    accept: ".csv,.txt,.tsv,text/csv,text/plain",
    "aria-label": "File of the logger",
  });
  file.addEventListener("change", async () => {
    const [chosen] = file.files;
    if (!chosen) return;
    part.text = area.value = (await chosen.text()).slice(0, 200000);
    Object.assign(part, { from: "file", file: chosen.name.slice(0, 200) });
    changed();
  });
  const add = () => {
    const every_s = blank(part.interval) ? 5 : parseNumber(part.interval);
    if (parseNumber(part.next) === null || every_s === null) return changed();
    part.text = area.value = nextLine(part.text, every_s, part.next, part.nextSecond);
    Object.assign(part, { next: "", nextSecond: "" });
    for (const label of [next, second]) label.querySelector("input").value = "";
    next.querySelector("input").focus();
    area.scrollTop = area.scrollHeight;
    return changed();
  };
  return el(
    "fieldset",
    {},
    el("legend", {}, "Trace"),
    el(
      "div",
      { class: "two" },
      figureBox({ label: "Every", unit: "s", value: part.interval, set: set("interval") }),
      next,
    ),
    second,
    el("div", { class: "beside" }, button("Add the reading", add)),
    el(
      "label",
      { class: "field" },
      el("span", {}, "Or paste it here: seconds and \u00b5S/cm, one reading a line"),
      area,
    ),
    el("label", { class: "field" }, "Or from a file", file),
  );
}

/** The staff boxes of a gauging: at the start, and again until the end. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { siteTime } from "../../shared/format.js";
import { drawAsk } from "../typed/plausible.js";

/** Draw the boxes; `heard(index, text)` on every key. The first box stands before the measuring. */
export function drawHeads(values, heard) {
  fill(byId("head-start"), headBox(values, 0, "Staff at the start", heard));
  fill(
    byId("head-later"),
    values.heads.slice(1).map((_, i) => {
      const last = i === values.heads.length - 2;
      return headBox(values, i + 1, last ? "Staff at the end" : "Staff meanwhile", heard);
    }),
  );
  show(byId("head-more"), values.heads.length < 20);
}

function headBox(values, index, words, heard) {
  const input = el("input", {
    name: `head_${index}`,
    type: "text",
    inputmode: "decimal",
    enterkeyhint: "done",
    maxlength: "12",
    class: "figure",
    "aria-describedby": `ask-${index}`,
  });
  input.value = values.heads[index].text;
  input.addEventListener("input", () => heard(index, input.value));
  return el(
    "div",
    { class: "field" },
    el(
      "label",
      {},
      el("span", {}, words),
      el("span", { class: "with-unit" }, input, el("span", { class: "unit" }, values.unit)),
    ),
    el("span", { id: `at-${index}`, class: "aside" }),
    el("div", { id: `ask-${index}`, class: "ask" }),
  );
}

/** Questions about the unit, problems, and the time of each reading. */
export function tellHeads(values, boxes, { agree, keep, utcOffsetMin }) {
  boxes.forEach((box, index) => {
    const node = byId(`ask-${index}`);
    if (node)
      drawAsk(node, box, {
        agree: (text) => agree(index, text),
        keep: (text) => keep(index, text),
      });
    const at = values.heads[index].at;
    if (byId(`at-${index}`))
      byId(`at-${index}`).textContent =
        at && !values.start && !values.end ? `read at ${siteTime(at, utcOffsetMin).slice(11)}` : "";
  });
}

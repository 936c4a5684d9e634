/** The boxes of the staff: what is there before anything is typed. */
import { byId, el } from "../../shared/dom.js";

/** One box a repeat; the first is the largest thing on the page. */
export function drawBoxes(values, onText) {
  const box = byId("heads");
  const count = values.heads.length;
  while (box.children.length > count) box.lastElementChild.remove();
  values.heads.forEach(({ text }, i) => {
    if (!box.children[i]) box.append(headBox(i, onText));
    const input = box.children[i].querySelector("input");
    if (input.value !== text) input.value = text;
  });
  box.dataset.count = String(count);
}

function headBox(index, onText) {
  const input = el("input", {
    name: "head",
    type: "text",
    inputmode: "decimal",
    enterkeyhint: "done",
    maxlength: "12",
    class: "figure",
    "aria-label": `Staff reading ${index + 1}`,
    "aria-describedby": `ask-${index}`,
  });
  input.addEventListener("input", () => onText(index, input.value));
  return el(
    "div",
    { class: "head" },
    el("span", { class: "with-unit" }, input, el("span", { class: "unit" })),
    el("div", { id: `ask-${index}`, class: "ask" }),
  );
}

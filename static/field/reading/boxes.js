/** The boxes of the staff: what is there before anything is typed. */
import { byId, el } from "../../shared/dom.js";

/** One box a repeat; the first is the largest thing on the page. */
export function drawBoxes(values, hands) {
  const box = byId("heads");
  const count = values.heads.length;
  while (box.children.length > count) box.lastElementChild.remove();
  values.heads.forEach(({ text }, i) => {
    if (!box.children[i]) box.append(headBox(i, hands));
    const input = box.children[i].querySelector("input");
    if (input.value !== text) input.value = text;
  });
  box.dataset.count = String(count);
}

/** `typed(index, text)` takes what is typed, `next(index)` the pad's own key for what comes next. */
function headBox(index, { typed, next }) {
  const input = el("input", {
    name: "head",
    type: "text",
    inputmode: "decimal",
    enterkeyhint: "next",
    maxlength: "12",
    class: "figure",
    "aria-label": `Staff reading ${index + 1}`,
    "aria-describedby": `ask-${index}`,
  });
  input.addEventListener("input", () => typed(index, input.value));
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault(); // it is no Save: the pad stays up for the next figure
    next(index);
  });
  return el(
    "div",
    { class: "head" },
    el("span", { class: "with-unit" }, input, el("span", { class: "unit" })),
    el("div", { id: `ask-${index}`, class: "ask" }),
  );
}

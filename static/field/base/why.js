/** The box for the reason of a correction, on a form that has none of its own. */
import { el } from "../../shared/dom.js";

export function drawWhy(form, problem, life) {
  if (form.elements.reason) return;
  const box = el("input", { name: "reason", maxlength: "2000" });
  box.value = life.values.reason;
  box.addEventListener("input", (event) => {
    event.stopPropagation(); // the form's own figures are not meant
    life.values.reason = box.value;
    life.typed();
  });
  problem.before(el("label", { class: "field" }, "Why it is corrected", box));
}

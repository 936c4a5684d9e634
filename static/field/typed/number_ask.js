/** Below a box: the two numbers that a figure can be as answers of one tap, or the figure as read. */
import { el, fill } from "../../shared/dom.js";
import { possible, spelled } from "../../shared/numbers.js";

const BELOW_THOUSAND = new Set(["m", "m/s", "%", "\u00b0"]);

/** Watch a box; returns the node to place below it. A tap writes the answer into the box. */
export function watchNumber(input, unit = "") {
  const node = el("div", { class: "ask", role: "status" });
  const answer = (text) => {
    input.value = text;
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const draw = () => {
    const found = possible(input.value, { high: BELOW_THOUSAND.has(unit) ? 999 : Infinity });
    const words = (value) => `${Number(value.toPrecision(12))} ${unit}`.trim();
    const plain = found.length === 1 && String(found[0]) !== input.value.trim();
    fill(
      node,
      found.length > 1
        ? found.map((value) =>
            el(
              "button",
              { type: "button", class: "agree", onclick: () => answer(spelled(value)) },
              `${words(value)}?`,
            ),
          )
        : plain
          ? `= ${words(found[0])}`
          : "",
    );
  };
  input.addEventListener("input", draw);
  draw();
  return node;
}

// Beside every box for a figure: the value as it is read, with its unit, before it is sent.
import { meanings } from "../shared/numbers.js";

const UNIT =
  /(?:^|, |\()(mm|cm|m|km|m\u00b2|m\u00b3|m\/s|L\/s|L|m\u00b3\/s|minutes|min|s|%|g|\u00b0)\)?$/;
const THIN = "\u202f";

const grouped = (value) => {
  const [whole, part] = String(Number(value.toPrecision(12))).split(".");
  const shown = /^-?\d{5,}$/.test(whole) ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  return part === undefined ? shown : `${shown}.${part}`;
};

/** The unit of a box: said by the box, by what another box chooses, or by the end of its label. */
function unitOf(box) {
  const { unit, unitsBy, units } = box.dataset;
  if (unit) return unit;
  if (unitsBy) {
    const chosen = box.form?.elements[unitsBy]?.value;
    return Object.fromEntries(units.split(";").map((pair) => pair.split("=")))[chosen] ?? "";
  }
  const label = box.labels?.[0]?.firstChild?.textContent ?? box.getAttribute("aria-label") ?? "";
  return UNIT.exec(label.trim())?.[1] ?? (/ in mm$/.test(label.trim()) ? "mm" : "");
}

function echo(box) {
  let node = box.nextElementSibling;
  if (!node?.classList.contains("echo")) {
    node = document.createElement("output");
    node.className = "echo";
    box.after(node);
  }
  const unit = unitOf(box);
  let found = meanings(box.value);
  if (unit === "m" || unit === "%" || unit === "m/s") found = found.slice(0, 1);
  const words = found.map((value) => `${grouped(value)} ${unit}`.trim());
  node.value =
    words.length > 1
      ? `${words.join(" or ")}? You will be asked.`
      : words.length
        ? `= ${words[0]}`
        : "";
}

const isFigure = (node) => node instanceof HTMLInputElement && node.inputMode === "decimal";

document.addEventListener("input", ({ target }) => {
  if (isFigure(target)) echo(target);
  else if (target.name)
    for (const box of document.querySelectorAll(
      `input[data-units-by="${CSS.escape(target.name)}"]`,
    ))
      if (box.value) echo(box);
});

// A second press of a button sends nothing twice; coming back to the page frees it.
const sent = new WeakSet();
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented) return;
  if (sent.has(form)) event.preventDefault();
  else sent.add(form);
  setTimeout(() => sent.delete(form), 5000);
});

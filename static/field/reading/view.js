/** What the reading form shows beside its boxes: sums, questions, discharge, steadiness. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { discharge, dischargeLine, millimetres } from "../../shared/format.js";
import { lengthText } from "../../shared/numbers.js";
import { drawAsk } from "../typed/plausible.js";

export function drawSums({ values, understood, assessed, answersFor }) {
  const { unit } = values;
  document.querySelectorAll(".unit").forEach((node) => (node.textContent = unit));
  byId("unit").textContent = `Type in ${unit === "mm" ? "m" : "mm"}`;
  understood.heads.forEach((box, i) => {
    const node = byId(`ask-${i}`);
    if (node) drawAsk(node, box, answersFor(i));
  });
  show(byId("more"), values.heads.length < 10);
  const sums = assessed?.sums;
  byId("repeats").textContent =
    !sums || sums.n === 1
      ? ""
      : [
          `${sums.n} readings: mean ${lengthText(sums.mean, unit)}`,
          `spread ${millimetres(sums.spread)}`,
          `standard error ${millimetres(sums.standardError)}`,
        ].join(" \u00b7 ");
  byId("over-crest").textContent =
    assessed && assessed.head_m !== null
      ? `Head over the crest ${lengthText(assessed.head_m, unit)}`
      : "";
  drawSteady(assessed?.steady, sums);
}

/** Before enough readings the phone says what would tell, not a verdict. */
function drawSteady(steady, sums) {
  const node = byId("steady");
  if (!steady) return fill(node);
  const wait =
    steady.wait_min === null
      ? ""
      : steady.word === "settling"
        ? `wait about ${Math.ceil(steady.wait_min)} min, then read again`
        : "";
  const how =
    steady.word === "unknown" && sums.n < 3
      ? "for steadiness read three times over two minutes or more"
      : steady.word === "unknown" && steady.wait_min
        ? `read again in ${Math.ceil(steady.wait_min)} min`
        : steady.reason;
  const words =
    steady.word === "unknown"
      ? `Steadiness not known: ${how}`
      : `${steady.reason}${wait ? `; ${wait}` : ""}`;
  const verdict = steady.word === "unknown" ? null : el("strong", {}, steady.word);
  return fill(node, verdict, ` ${words}`);
}

export function drawTail({ values, understood, assessed, answersFor, gauge }) {
  show(byId("tail-row"), gauge && values.tail === "read");
  drawAsk(byId("tail-ask"), understood.tail, { ...answersFor("tail"), dry: null });
  const ratio = assessed?.flow.submergence_ratio;
  if (ratio > 0 && !understood.tail?.question)
    fill(byId("tail-ask"), `Submergence ratio ${ratio.toFixed(2)}`);
}

const flagMark = (flag) => el("span", { class: "flag" }, flag);

export function drawDischarge(assessed) {
  const output = byId("discharge");
  output.dataset.line = "";
  if (!assessed) return fill(output, el("span", { class: "aside" }, "Type the staff reading"));
  const { flow, steady } = assessed;
  const known = flow.discharge_m3s !== null;
  const said = known ? discharge(flow.discharge_m3s, flow.uncertainty_pct) : null;
  const zero = flow.discharge_m3s === 0;
  output.dataset.line = known
    ? `${dischargeLine(flow.discharge_m3s, flow.uncertainty_pct)}, ${flow.flow}.`
    : "";
  const steadyWord =
    steady && steady.word !== "unknown" && !flow.flags.includes(steady.word) ? steady.word : null;
  return fill(
    output,
    known
      ? el(
          "span",
          { class: "amount" },
          zero ? "0" : said.value,
          el("span", { class: "unit-text" }, ` ${said.unit}`),
        )
      : el("span", { class: "unknown" }, flow.flow),
    known && !zero
      ? el("span", { class: "plus-minus" }, `\u00b1 ${said.plusMinus} (${said.pct} %)`)
      : null,
    el(
      "span",
      { class: "words" },
      known ? el("strong", {}, flow.flow) : "no discharge",
      steadyWord ? ` \u00b7 ${steadyWord}` : "",
      " \u00b7 preview",
    ),
    assessed.zero?.provisional ? el("span", { class: "words" }, assessed.zero.provisional) : null,
    flow.note ? el("span", { class: "words" }, flow.note) : null,
    flow.flags.length ? el("span", { class: "flags" }, flow.flags.map(flagMark)) : null,
  );
}

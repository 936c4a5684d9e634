/** What the reading form shows beside its boxes: sums, questions, discharge, steadiness. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { discharge, dischargeLine, millimetres } from "../../shared/format.js";
import { lengthText } from "../../shared/numbers.js";
import { drawAsk } from "../typed/plausible.js";
import { nextUnit } from "../typed/staff_unit.js";

const ASKED_BELOW = "Asked beside Save.";

export function drawSums({ values, understood, assessed }) {
  const { unit } = values;
  document.querySelectorAll(".unit").forEach((node) => (node.textContent = unit));
  byId("unit").textContent = `Type in ${nextUnit(unit)}`;
  understood.heads.forEach((box, i) => {
    const node = byId(`ask-${i}`);
    if (node) node.textContent = box?.question ? ASKED_BELOW : (box?.problem ?? "");
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

/** One question at a time, beside Save: about the first figure that is not usual. */
export function drawQuestion({ values, understood, answersFor }) {
  const { heads, tail } = understood;
  const first = heads.findIndex((box) => box?.question);
  const node = byId("dock-ask");
  if (first < 0 && !tail?.question) return fill(node);
  const text = first < 0 ? values.tail_text : values.heads[first].text;
  const what =
    first < 0 ? "Tail staff" : heads.length > 1 ? `Reading ${first + 1}` : "Staff reading";
  const answers = el("div", { class: "ask" });
  fill(node, el("p", {}, `${what}: ${text.trim()} ${values.unit} is not usual here.`), answers);
  return first < 0
    ? drawAsk(answers, tail, { ...answersFor("tail"), dry: null })
    : drawAsk(answers, heads[first], answersFor(first));
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
  const minutes = steady.wait_min ? Math.ceil(steady.wait_min) : sums.n < 3 ? 1 : 0;
  return fill(node, verdict, ` ${words} `, minutes ? countDown(minutes) : null);
}

function countDown(minutes) {
  const start = async () => {
    const { begin } = await import("../shell/countdown.js");
    const here = location.pathname + location.search;
    begin(minutes, { href: here, what: byId("title").textContent });
  };
  return el("button", { type: "button", onclick: start }, `Count down ${minutes} min`);
}

/** The tail staff waits for its figure while nothing else is said of the tailwater. */
export function drawTail({ values, understood, assessed, gauge }) {
  const { tail, tail_text } = values;
  show(byId("tail-row"), gauge && (tail === "read" || (tail === "not_seen" && !tail_text.trim())));
  const ratio = assessed?.flow.submergence_ratio;
  const said = understood.tail?.question ? ASKED_BELOW : (understood.tail?.problem ?? "");
  byId("tail-ask").textContent = said || (ratio > 0 ? `Submergence ratio ${ratio.toFixed(2)}` : "");
}

/** One line of the discharge, "" where there is none. */
export function lineOf(assessed) {
  const flow = assessed?.flow;
  return typeof flow?.discharge_m3s === "number"
    ? `${dischargeLine(flow.discharge_m3s, flow.uncertainty_pct)}, ${flow.flow}.`
    : "";
}

const flagMark = (flag) => el("span", { class: "flag" }, flag);

export function drawDischarge(assessed) {
  const output = byId("discharge");
  if (!assessed) return fill(output, el("span", { class: "aside" }, "Type the staff reading"));
  const { flow, steady } = assessed;
  const known = flow.discharge_m3s !== null;
  const said = known ? discharge(flow.discharge_m3s, flow.uncertainty_pct) : null;
  const zero = flow.discharge_m3s === 0;
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

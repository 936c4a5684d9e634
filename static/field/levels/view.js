/** What the level book shows: the book, the three sums, misclosure, results, suspicions. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { UNITS_M } from "../sums/levelling/reduce.js";
import { suspicions } from "./doubts.js";

const PLACES = 3;
const MINUS = "\u2212";
const dash = "\u2013";
export const figure = (value, places = PLACES) =>
  value === null || value === undefined ? dash : value.toFixed(places).replace("-", MINUS);
export const signed = (value, places = PLACES) =>
  value === null || value === undefined ? dash : `${value > 0 ? "+" : ""}${figure(value, places)}`;

/** The book: one line a sight, tapped to change it. Rise and fall stand with their sign. */
export function drawBook(values, run, change) {
  const { sights, editing } = values;
  const shown = { staff_mark: values.staff_text, tail_mark: values.tail_text };
  if (!sights.length)
    return fill(
      byId("book"),
      el("p", { class: "aside" }, "Begin with a backsight on a benchmark."),
    );
  const lines = [];
  let setup = 0;
  sights.forEach((sight, i) => {
    if (sight.kind === "bs") {
      setup += 1;
      const height = run ? `, height of collimation ${figure(run.collimation[i])}` : "";
      lines.push(
        el(
          "tr",
          { class: "setup" },
          el("th", { colspan: "4", scope: "rowgroup" }, `Set-up ${setup}${height}`),
        ),
      );
    }
    lines.push(bookLine(sight, shown[sight.role], i, run, editing === i, () => change(i)));
  });
  return fill(
    byId("book"),
    el(
      "table",
      { class: "book" },
      el(
        "thead",
        {},
        el(
          "tr",
          {},
          ["Point", "Reading", "Rise, fall", "Level"].map((title) =>
            el("th", { scope: "col" }, title),
          ),
        ),
      ),
      el("tbody", {}, lines),
    ),
  );
}

function bookLine(sight, marked, i, run, current, change) {
  const step =
    !run || run.rise[i] === null ? "" : signed(run.rise[i] > 0 ? run.rise[i] : -run.fall[i]);
  const struck = (sight.struck ?? []).map((text) => el("span", { class: "struck" }, text));
  return el(
    "tr",
    { "aria-current": current ? "true" : null },
    el(
      "td",
      {},
      el(
        "button",
        {
          type: "button",
          onclick: change,
          "aria-label": `Change ${sight.kind.toUpperCase()} ${sight.point}`,
        },
        sight.point,
        marked?.trim() ? ` (reads ${marked.trim()})` : null,
      ),
    ),
    el(
      "td",
      {},
      struck,
      el("span", { class: "kind" }, sight.kind.toUpperCase()),
      sight.text.trim().replace(",", "."),
    ),
    el("td", {}, step),
    el("td", {}, el("strong", {}, run ? figure(run.rl[i]) : "")),
  );
}

/** The level of a reading that is typed and not booked, by both ways of booking. */
export function drawLevelNow(run, typed) {
  if (!typed || !run) return fill(byId("level-now"));
  const last = run.rl.length - 1;
  const agree = Math.abs(run.rl[last] - run.rl_rise_fall[last]) < 1e-6;
  return fill(
    byId("level-now"),
    el("strong", {}, `Level ${figure(run.rl[last])}`),
    run.kind[last] === "bs"
      ? `Height of collimation ${figure(run.collimation[last])}`
      : `by rise and fall ${figure(run.rl_rise_fall[last])}${agree ? ", agrees" : ", does NOT agree"}`,
  );
}

export function drawChecks(values, { run, problem }) {
  const box = byId("sums");
  if (!run)
    return fill(
      box,
      el(
        "p",
        { class: problem ? "problem" : "aside" },
        problem
          ? `${problem.field}: ${problem.rule}. ${problem.remedy}`
          : "The sums appear with the first sight.",
      ),
    );
  const { unit } = run;
  const three = [
    ["Backsights less foresights", run.complete ? run.sum_bs - run.sum_fs : null],
    ["Rises less falls", run.sum_rises - run.sum_falls],
    ["Last level less first", run.last_minus_first],
  ];
  const says = [...run.words, ...suspicions(values, run)];
  return fill(
    box,
    el(
      "dl",
      { class: "pairs" },
      three.flatMap(([name, value]) => [
        el("dt", {}, name),
        el("dd", {}, value === null ? dash : `${signed(value)} ${unit}`),
      ]),
      el("dt", {}, "Sum of backsights, of foresights"),
      el("dd", {}, `${figure(run.sum_bs)}, ${figure(run.sum_fs)}`),
    ),
    el(
      "p",
      {},
      run.arithmetic_agrees
        ? run.complete
          ? "\u2713 The three agree."
          : "\u2713 Rises and falls agree; the set-up is open."
        : "\u2717 The three do NOT agree.",
    ),
    closure(run),
    run.misclosure !== null && values.adjusted ? adjustment(run) : null,
    says.length
      ? el(
          "ul",
          { class: "words-list" },
          says.map((words) => el("li", {}, words)),
        )
      : null,
  );
}

function closure(run) {
  if (run.misclosure === null)
    return el(
      "p",
      { class: "verdict", id: "verdict", "data-word": "unknown" },
      run.complete ? "Misclosure unknown" : "Not closed yet",
    );
  const word = run.within_limit ? "inside" : "outside";
  return el(
    "p",
    { class: "verdict", id: "verdict", "data-word": word },
    `${run.within_limit ? "\u2713" : "\u2717"} Misclosure ${signed(run.misclosure_mm, 1)} mm, ${word} ${figure(run.limit_mm, 2)} mm`,
  );
}

/** What is added to every level after each set-up: equal shares, or by the lengths of the sights. */
function adjustment(run) {
  const parts = Array.from({ length: run.setups }, (_, i) => {
    const added_mm = run.correction[run.setup.lastIndexOf(i + 1)] * UNITS_M[run.unit] * 1000;
    return `${signed(added_mm, 2)} mm after set-up ${i + 1}`;
  });
  return el("p", { class: "aside" }, `Adjusted by ${run.shared_by}: ${parts.join(", ")}.`);
}

export function drawResults({ results, tailZero_m }, values) {
  show(byId("results"), Boolean(results));
  if (!results) return;
  const mm = (metres) => (metres === null ? dash : `${signed(metres * 1000, 1)} mm`);
  const m = (metres) => (metres === null ? dash : `${figure(metres, 4)} m`);
  const ratio = results.tailwater_ratio;
  const rows = [
    ["Mean crest", m(results.crest_rl_m), "large"],
    [
      `Corner range, ${results.corner_word}`,
      `${figure(results.corner_range_m * 1000, 1)} mm`,
      "large",
    ],
    [
      `Effect at ${values.low_head_text || 100} mm head, zero tied to one edge`,
      `${figure(results.corner_effect_pct, 1)} % of Q`,
    ],
    ["Gauge zero less crest", mm(results.zero_minus_crest_m), "large"],
    ["Gauge zero", m(results.zero_rl_m)],
    ["Tail gauge zero", m(tailZero_m)],
    ["Crest above the race floor", m(results.crest_above_floor_m)],
    ["Head by level", m(results.head_by_level_m)],
    ["Staff should read", m(results.staff_should_read_m)],
    ["Sensor below the crest", m(results.sensor_below_crest_m)],
    ["Crest above the tail floor", m(results.crest_above_tail_floor_m)],
    ["Tailwater above the crest", m(results.tailwater_above_crest_m)],
    ["Tailwater ratio", ratio === null ? dash : figure(ratio, 3)],
  ].filter(([, said]) => said !== dash);
  fill(
    byId("result-list"),
    rows.flatMap(([name, said, size]) => [
      el("dt", {}, name),
      el("dd", { class: size ?? null }, said),
    ]),
  );
  const says = results.words;
  fill(
    byId("result-words"),
    says.length
      ? el(
          "ul",
          { class: "words-list" },
          says.map((words) => el("li", {}, words)),
        )
      : null,
    results.crest_above_floor_m !== null
      ? el(
          "p",
          { class: "aside" },
          "Often about 100 mm above a flat race floor: common practice, a check value only.",
        )
      : null,
  );
}

export function drawPeg(found) {
  const said = byId("peg-said");
  said.className = found?.problem || found?.test.passes === false ? "problem" : "";
  said.textContent = !found ? "" : (found.problem ?? pegWords(found.test));
}

function pegWords(test) {
  const verdict = test.passes
    ? "\u2713 passes"
    : "\u2717 does not pass: have the level adjusted, keep sights equal";
  return (
    `${verdict}: line of sight ${signed(test.collimation_mm_per_m, 3)} mm per m, limit ${test.limit_mm_per_m} mm per m. ` +
    `At the far staff it should read ${figure(test.end_a_should_read_m)} (A), ${figure(test.end_b_should_read_m)} (B).`
  );
}

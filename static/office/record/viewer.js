// The flow history: the server thins each view to the width of the screen, this moves the view.
// What stands beside the series is drawn over it and opened by a click; the tables hold it too.

import { lineOf } from "../charts/colours.js";
import {
  ask,
  axis,
  fromSiteText,
  plotIn,
  siteClock,
  siteText,
  timeValues,
} from "../charts/plot.js";
import { saveButtons } from "../charts/save.js";
import { makeAddress } from "./address.js";
import { bandsAt, drawStrips, STRIP_PX, STRIPS, svgStrips } from "./bands.js";
import { drawBelow } from "./below.js";
import { drawLonely, legendWords, tables } from "./lines.js";
import { lowestOf, markAt, marksIn, paintMarks, svgMarks, topOf, withLimits } from "./marks.js";
import { keysOf, makeMoves } from "./moves.js";
import { openOnClick, wordsOf } from "./pick.js";
import { tellView } from "./told.js";

const HEIGHT = 400;
const LEAST_S = 3600;
const SYNC = { key: "flow" };

const figure = document.querySelector("[data-record]");
const part = (name) => figure.querySelector(`[data-${name}]`);
const base = figure.dataset.record;
const place = part("plot");
const readout = part("readout");
const form = part("range");
const address = makeAddress(form);
const whole = { from_s: Number(figure.dataset.from), to_s: Number(figure.dataset.to) };
const offsetMin = Number(figure.dataset.offset);
const time = (s) => siteText(s, offsetMin).replace("T", " ");

let view = { from_s: null, to_s: null };
let shown = null; // the last answer
let plot = null;
let under = null; // the chart of head and tailwater
let marks = null;
let top = 0;
let asking = null;

function go() {
  address.setStep(true);
  load();
}

async function load() {
  asking?.abort();
  const mine = new AbortController();
  asking = mine;
  const asked = new URLSearchParams({
    columns: String(Math.max(200, Math.round(place.clientWidth))),
    what: form.elements.what.value,
    from_s: view.from_s,
    to_s: view.to_s,
  });
  if (address.others()) asked.set("with", address.others());
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await ask(`${base}/chart.json?${asked}`, mine.signal);
    if (mine.signal.aborted) return; // the person went on while it was read
    shown = answer;
    draw();
    address.write(view, offsetMin);
    const series = part("series");
    if (series)
      series.href = `${base.replace(/record$/, "series.csv")}?from_s=${view.from_s}&to_s=${view.to_s}`;
    await beside(mine.signal);
  } catch (error) {
    if (error.name !== "AbortError")
      readout.textContent = `The chart could not be drawn: ${error.message}`;
  } finally {
    if (asking === mine) place.removeAttribute("aria-busy");
  }
}

function draw() {
  const what = form.elements.what.value;
  const { unit, data, top: highest } = tables(shown, what);
  marks = marksIn(shown, what, unit.scale);
  top = withLimits(Math.max(highest, topOf(marks)), marks);
  const lows = data.filter((_, k) => k % 3 === 1).flat();
  const lowest = Math.min(lowestOf(marks), ...lows.filter((v) => Number.isFinite(v)));
  const bands = shown.series[0].bands;
  plot?.destroy();
  plot = plotIn(
    place,
    {
      height: HEIGHT,
      padding: [STRIPS.length * STRIP_PX + 10, 34, 0, 0],
      tzDate: siteClock(offsetMin),
      scales: {
        x: { time: true, range: () => [view.from_s, view.to_s] },
        y: { range: () => [lowest, top > lowest ? top * 1.08 : 1] },
      },
      cursor: {
        sync: SYNC,
        drag: { x: true, y: false, setScale: false, dist: 8 },
        points: { size: 8 },
      },
      axes: [
        axis({ values: timeValues, size: 50, space: 80 }),
        axis({ label: unit.label, size: 66, labelSize: 22 }),
      ],
      series: [
        {},
        ...shown.series.flatMap((one, k) => [
          { stroke: one.full ? null : lineOf(k).edge, width: 0.8, points: { show: false } },
          { stroke: one.full ? null : lineOf(k).edge, width: 0.8, points: { show: false } },
          {
            stroke: lineOf(k).stroke,
            dash: lineOf(k).dash,
            width: 1.6,
            points: { show: one.full && one.of === "logger" ? undefined : false, size: 5 },
          },
        ]),
      ],
      bands: shown.series.map((_, k) => ({
        series: [3 * k + 2, 3 * k + 1],
        fill: lineOf(k).fill,
      })),
      hooks: {
        draw: [
          (u) => {
            drawStrips(u, bands);
            drawLonely(u, shown.series);
            paintMarks(u, marks);
          },
        ],
        setSelect: [
          (u) =>
            u.select.width > 8 &&
            look(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")),
        ],
        setCursor: [(u) => tell(u)],
      },
    },
    data,
  );
  under?.plot.destroy();
  under = drawBelow(part("below"), shown, { view, offsetMin, sync: SYNC });
  tellView(part, { shown, marks, top, under, what, offsetMin, base });
}

let telling = null;
function tell(u) {
  clearTimeout(telling);
  if (u.cursor.left === undefined || u.cursor.left < 0) return;
  const found = markAt(u, marks, u.cursor.left, u.cursor.top);
  if (found) {
    readout.textContent = wordsOf(found, offsetMin);
    return;
  }
  if (shown.series[0].of !== "logger") return;
  const at = Math.round(u.posToVal(u.cursor.left, "x"));
  telling = setTimeout(async () => {
    const read = await ask(`${base}/reading.json?at=${at}`).catch(() => null);
    if (read)
      readout.textContent = [read.words, ...bandsAt(shown.series[0].bands, at)].join(" \u00b7 ");
  }, 90);
}

/** The parts in words: the sum beside the chart, the marks and the table below it. */
async function beside(signal) {
  const answer = await fetch(`${base}/table?from_s=${view.from_s}&to_s=${view.to_s}`, {
    headers: { accept: "text/html", "hx-request": "true" },
    signal,
  });
  if (!answer.ok) return;
  const made = document.createElement("template");
  made.innerHTML = await answer.text(); // our own template, escaped there
  for (const one of made.content.querySelectorAll("[data-part]"))
    document
      .querySelector(`main [data-part="${one.dataset.part}"]`)
      .replaceChildren(...one.childNodes);
}

/** Go to a view; never narrower than an hour, never outside the record by more than its width. */
function look(from, to) {
  let [a, b] = [Math.round(from), Math.round(to)];
  if (b - a < LEAST_S)
    [a, b] = [Math.round((a + b) / 2) - LEAST_S / 2, Math.round((a + b) / 2) + LEAST_S / 2];
  const width = Math.min(b - a, whole.to_s - whole.from_s);
  if (b - a > width) [a, b] = [whole.from_s, whole.to_s];
  if (a < whole.from_s) [a, b] = [whole.from_s, whole.from_s + width];
  if (b > whole.to_s) [a, b] = [whole.to_s - width, whole.to_s];
  view = { from_s: a, to_s: b };
  go();
}

const moves = makeMoves(
  () => view,
  () => whole,
  look,
);
const keys = keysOf(moves);

function start() {
  openOnClick([place, part("below")], {
    charts: () =>
      shown
        ? [
            { u: plot, marks, bands: shown.series[0].bands },
            { u: under.plot, marks: under.marks },
          ]
        : [],
    look,
  });
  const asked = address.read();
  const second = (value) => (typeof value === "string" ? fromSiteText(value, offsetMin) : value);
  for (const button of figure.querySelectorAll("[data-go]"))
    button.addEventListener("click", moves[button.dataset.go]);
  place.addEventListener("keydown", (event) => {
    const move = event.ctrlKey || event.altKey || event.metaKey ? null : keys[event.key];
    if (!move) return;
    event.preventDefault();
    const before = address.isStep();
    move();
    if (event.repeat) address.setStep(before); // a key held down is one step, not fifty
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const from = fromSiteText(form.elements.from.value, offsetMin) ?? whole.from_s;
    const to = fromSiteText(form.elements.to.value, offsetMin) ?? whole.to_s;
    if (to > from) look(from, to);
    else readout.textContent = "The view must end after it begins.";
  });
  form.elements.what.addEventListener("change", go);
  for (const box of form.querySelectorAll("[name=with]")) box.addEventListener("change", go);
  saveButtons(
    figure,
    () => plot,
    () => ({
      title: `${shown.series.map((one) => one.label).join(" / ")}, ${form.elements.what.value}`,
      note: `Site time UTC${offsetMin < 0 ? "" : "+"}${offsetMin / 60} h, ${time(view.from_s)} to ${time(view.to_s)}. Uncertainty of each value is in series.csv.`,
      name: `flow-${siteText(view.from_s, offsetMin).slice(0, 10)}-${siteText(view.to_s, offsetMin).slice(0, 10)}`,
      lines: shown.series.map((one, k) => ({
        ...lineOf(k),
        words: shown.series.length > 1 ? one.label : legendWords(one),
      })),
      extra: (u) => [...svgStrips(u, shown.series[0].bands), ...svgMarks(u, marks)],
    }),
  );
  addEventListener("popstate", () => {
    const back = address.back();
    if (!back) return;
    lookAt(second(back.from), second(back.to));
    address.setStep(false);
  });
  lookAt(second(asked.from), second(asked.to));
}

function lookAt(a, b) {
  if (a === null && b === null) return moves.all();
  const [from, to] = [a ?? whole.from_s, b ?? whole.to_s];
  const margin = to - from < LEAST_S ? 6 * 3600 : 0; // a moment is shown with what lies around it
  return look(from - margin, to + margin);
}

start();

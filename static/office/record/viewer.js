// The record viewer: the server thins each view to the width of the screen, this moves the view.
// The view is in the address: from, to (site time), what, with; every view one went to is an
// entry of the browser's history, so that Back shows the view before.

import { lineOf } from "../charts/colours.js";
import { el, legendLine } from "../charts/nodes.js";
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
import { bandLines, bandsAt, drawStrips, STRIP_PX, STRIPS, svgStrips } from "./bands.js";
import { drawLonely, legendWords, tables } from "./lines.js";
import { keysOf, makeMoves } from "./moves.js";

const HEIGHT = 430;
const LEAST_S = 3600;
const HINT = "Move over the chart to read the nearest reading; drag over a stretch to look closer.";

const figure = document.querySelector("[data-record]");
const part = (name) => figure.querySelector(`[data-${name}]`);
const base = figure.dataset.record;
const place = part("plot");
const readout = part("readout");
const form = part("range");
const besidePlace = document.querySelector("[data-beside]");

let whole = null; // {from_s, to_s} of all that is on record
let view = { from_s: null, to_s: null };
let shown = null; // the last answer
let plot = null;
let asking = null;
let offsetMin = 0;
let wrote = ""; // the address of the view shown
let step = false; // the view asked for is one that Back leads back from

function readAddress() {
  const asked = new URLSearchParams(location.search);
  const moment = (text) =>
    text === null || text === "" ? null : /^-?\d{9,}$/.test(text) ? Number(text) : text;
  const what = asked.get("what");
  form.elements.what.value = ["head", "tailwater"].includes(what) ? what : "discharge";
  const over = (asked.get("with") ?? "").split(",");
  for (const box of form.querySelectorAll("[name=with]")) box.checked = over.includes(box.value);
  return { from: moment(asked.get("from")), to: moment(asked.get("to")) };
}

function writeAddress() {
  const now = new URLSearchParams();
  now.set("from", siteText(view.from_s, offsetMin));
  now.set("to", siteText(view.to_s, offsetMin));
  if (form.elements.what.value !== "discharge") now.set("what", form.elements.what.value);
  if (others()) now.set("with", others());
  const address = `?${now}`.replaceAll("%3A", ":").replaceAll("%2C", ",");
  if (address !== wrote) history[wrote && step ? "pushState" : "replaceState"](null, "", address);
  [wrote, step] = [address, false];
  form.elements.from.value = siteText(view.from_s, offsetMin);
  form.elements.to.value = siteText(view.to_s, offsetMin);
  part("series").href =
    `${base.replace(/record$/, "series.csv")}?from_s=${view.from_s}&to_s=${view.to_s}`;
}

function go() {
  step = true;
  load();
}

const others = () =>
  [...form.querySelectorAll("[name=with]:checked")].map((box) => box.value).join(",");

async function load() {
  asking?.abort();
  const mine = new AbortController();
  asking = mine;
  const asked = new URLSearchParams({
    columns: String(Math.max(200, Math.round(place.clientWidth))),
    what: form.elements.what.value,
  });
  if (view.from_s !== null) asked.set("from_s", view.from_s);
  if (view.to_s !== null) asked.set("to_s", view.to_s);
  if (others()) asked.set("with", others());
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await ask(`${base}/chart.json?${asked}`, mine.signal);
    if (mine.signal.aborted) return; // the person went on while it was read
    shown = answer;
    [view.from_s, view.to_s] = [shown.from_s, shown.to_s];
    offsetMin = shown.series[0].utc_offset_min;
    draw();
    writeAddress();
    await beside();
  } catch (error) {
    if (error.name !== "AbortError")
      readout.textContent = `The chart could not be drawn: ${error.message}`;
  } finally {
    place.removeAttribute("aria-busy");
  }
}

function draw() {
  const { unit, data, top } = tables(shown, form.elements.what.value);
  const lowest = Math.min(
    0,
    ...data
      .filter((_, k) => k % 3 === 1)
      .flat()
      .filter((v) => Number.isFinite(v)),
  );
  const bands = shown.series[0].bands;
  const fill = (k) => lineOf(k).fill;
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
      cursor: { drag: { x: true, y: false, setScale: false, dist: 8 }, points: { size: 8 } },
      axes: [
        axis({ values: timeValues, size: 56, space: 80 }),
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
            points: { show: one.full ? undefined : false, size: 5 },
          },
        ]),
      ],
      bands: shown.series.map((_, k) => ({ series: [3 * k + 2, 3 * k + 1], fill: fill(k) })),
      hooks: {
        draw: [
          (u) => {
            drawStrips(u, bands);
            drawLonely(u, shown.series);
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
  part("legend").replaceChildren(
    ...shown.series.map((one, k) =>
      legendLine(lineOf(k), shown.series.length > 1 ? one.label : legendWords(one)),
    ),
  );
  const only =
    shown.series.length > 1 && bands.length ? [`the strips are of ${shown.series[0].label}`] : [];
  part("bands").replaceChildren(
    ...[...only, ...bandLines(bands, offsetMin)].map((line) => el("li", {}, line)),
  );
  const known = shown.series.some((one) => one.mean.some((value) => value !== null));
  const what = form.elements.what.value;
  readout.textContent = known
    ? HINT
    : `No ${what} is known in this view.${what === "discharge" ? " The head may be: choose it under Show." : ""}`;
  peak();
}

async function peak() {
  const { peak: top } = shown.series[0];
  part("peak").textContent = "";
  if (!top) return;
  const found = await ask(`${base}/reading.json?at=${top.t}`).catch(() => null);
  const of = shown.series.length > 1 ? `, ${shown.series[0].label}` : "";
  if (found) part("peak").textContent = `Highest in this view${of}: ${found.words}`;
}

let telling = null;
function tell(u) {
  clearTimeout(telling);
  if (u.cursor.left === undefined || u.cursor.left < 0) return;
  const at = Math.round(u.posToVal(u.cursor.left, "x"));
  telling = setTimeout(async () => {
    const found = await ask(`${base}/reading.json?at=${at}`).catch(() => null);
    if (found)
      readout.textContent = [found.words, ...bandsAt(shown.series[0].bands, at)].join(" \u00b7 ");
  }, 90);
}

async function beside() {
  const answer = await fetch(`${base}/table?from_s=${view.from_s}&to_s=${view.to_s}`, {
    headers: { accept: "text/html", "hx-request": "true" },
  });
  if (answer.ok) besidePlace.innerHTML = await answer.text(); // our own template, escaped there
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

async function start() {
  const asked = readAddress();
  const all = await ask(`${base}/chart.json?columns=10`);
  whole = { from_s: all.from_s, to_s: all.to_s };
  offsetMin = all.series[0].utc_offset_min;
  const second = (value) => (typeof value === "string" ? fromSiteText(value, offsetMin) : value);
  const [a, b] = [second(asked.from), second(asked.to)];
  for (const button of figure.querySelectorAll("[data-go]"))
    button.addEventListener("click", moves[button.dataset.go]);
  place.addEventListener("keydown", (event) => {
    const move = event.ctrlKey || event.altKey || event.metaKey ? null : keys[event.key];
    if (!move) return;
    event.preventDefault();
    const before = step;
    move();
    if (event.repeat) step = before; // a key held down is one step, not fifty
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
      note: `Site time UTC${offsetMin < 0 ? "" : "+"}${offsetMin / 60} h, ${siteText(view.from_s, offsetMin).replace("T", " ")} to ${siteText(view.to_s, offsetMin).replace("T", " ")}. Uncertainty of each value is in series.csv.`,
      name: `record-${siteText(view.from_s, offsetMin).slice(0, 10)}-${siteText(view.to_s, offsetMin).slice(0, 10)}`,
      lines: shown.series.map((one, k) => ({
        ...lineOf(k),
        words: shown.series.length > 1 ? one.label : legendWords(one),
      })),
      extra: (u) => svgStrips(u, shown.series[0].bands),
    }),
  );
  addEventListener("popstate", () => {
    if (location.search === wrote) return; // only a place on the page
    const back = readAddress();
    wrote = location.search;
    lookAt(second(back.from), second(back.to));
    step = false;
  });
  lookAt(a, b);
}

function lookAt(a, b) {
  if (a === null && b === null) return moves.all();
  const [from, to] = [a ?? whole.from_s, b ?? whole.to_s];
  const margin = to - from < LEAST_S ? 6 * 3600 : 0; // a moment is shown with what lies around it
  look(from - margin, to + margin);
}

start().catch((error) => {
  readout.textContent = `The chart could not be drawn: ${error.message}`;
});

// What all charts of the record share: looks, the site's clock, units, saving as PNG and SVG.
// All figures come from the server; here only pixels are computed.
import { FONT, GRID, INK } from "./colours.js";

/** uPlot shows the browser's clock; this gives it the site's. */
export function siteClock(offsetMin) {
  return (seconds) => {
    const browser = new Date(seconds * 1000).getTimezoneOffset();
    return new Date((seconds + (offsetMin + browser) * 60) * 1000);
  };
}

export function siteText(seconds, offsetMin) {
  return new Date((seconds + offsetMin * 60) * 1000).toISOString().slice(0, 16);
}

export function fromSiteText(text, offsetMin) {
  const plain = /^\d{4}-\d{2}-\d{2}$/.test(text) ? `${text}T00:00` : text;
  const ms = Date.parse(`${plain}Z`);
  return Number.isFinite(ms) ? Math.round(ms / 1000) - offsetMin * 60 : null;
}

/** Unit and factor that suit the largest value of a quantity. */
export function unitFor(what, largest) {
  if (what === "head" || what === "tailwater")
    return { label: what === "head" ? "Head, mm" : "Tailwater, mm", scale: 1000, word: "mm" };
  return largest >= 1
    ? { label: "Discharge, m³/s", scale: 1, word: "m³/s" }
    : { label: "Discharge, L/s", scale: 1000, word: "L/s" };
}

export const axis = (more = {}) => ({
  stroke: INK,
  font: FONT,
  labelFont: FONT,
  grid: { stroke: GRID, width: 1 },
  ticks: { stroke: GRID },
  ...more,
});

/** Axis text of times: numbers only, day before month never in doubt. */
export const timeValues = [
  [3600 * 24 * 365, "{YYYY}", null, null, null, null, null, null, 1],
  [3600 * 24 * 28, "{MMM}", "\n{YYYY}", null, null, null, null, null, 1],
  [3600 * 24, "{D} {MMM}", "\n{YYYY}", null, null, null, null, null, 1],
  [3600, "{HH}:{mm}", "\n{D} {MMM} {YYYY}", null, "\n{D} {MMM}", null, null, null, 1],
  [60, "{HH}:{mm}", "\n{D} {MMM} {YYYY}", null, "\n{D} {MMM}", null, null, null, 1],
  [1, "{HH}:{mm}:{ss}", "\n{D} {MMM} {YYYY}", null, "\n{D} {MMM}", null, null, null, 1],
];

/** Make a plot that keeps the width of its place. */
export function plotIn(place, options, data) {
  const width = () => Math.max(place.clientWidth, 200);
  const plot = new uPlot(
    { legend: { show: false }, padding: [8, 34, 0, 0], ...options, width: width() },
    data,
    place,
  );
  const watch = new ResizeObserver(() => {
    if (plot.width !== width()) plot.setSize({ width: width(), height: options.height });
  });
  watch.observe(place);
  const destroy = plot.destroy.bind(plot);
  plot.destroy = () => {
    watch.disconnect();
    destroy();
  };
  return plot;
}

/** Get JSON, or throw the server's own words. */
export async function ask(url, signal) {
  const answer = await fetch(url, { headers: { accept: "application/json" }, signal });
  if (answer.ok) return answer.json();
  const said = await answer.json().catch(() => ({}));
  throw new Error(
    [said.rule, said.remedy].filter(Boolean).join(". ") || `the server answered ${answer.status}`,
  );
}

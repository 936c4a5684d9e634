// The lines of an answer: their columns in the unit of the chart, their words, their lonely points.
import { lineOf } from "../charts/colours.js";
import { unitFor } from "../charts/plot.js";
import { DAY } from "./moves.js";

const WIDEN = 2; // uPlot: a gap of one line stays as wide as it is between the points of another

/** The edge of the shade: lowest and highest of each bucket; of every reading its uncertainty. */
function edge(one, side) {
  if (!one.spread) return side < 0 ? one.low : one.high;
  return one.mean.map((value, k) =>
    value === null || one.spread[k] === null ? value : value + side * one.spread[k],
  );
}

/** Unit, columns and top of the chart of an answer; several lines share the times of all. */
export function tables(shown, what) {
  const largest = Math.max(0, ...shown.series.flatMap((one) => one.high.filter((v) => v !== null)));
  const unit = unitFor(what, largest);
  const scaled = (values) => values.map((v) => (v === null ? null : v * unit.scale));
  const made = shown.series.map((one) => [
    one.t,
    scaled(edge(one, -1)),
    scaled(edge(one, 1)),
    scaled(one.mean),
  ]);
  return {
    unit,
    data:
      made.length === 1
        ? made[0]
        : uPlot.join(
            made,
            made.map((table) => table.map(() => WIDEN)),
          ),
    top: largest * unit.scale,
  };
}

export function legendWords(one) {
  if (one.of !== "logger")
    return "staff readings alone: a line only where they stand within the gap rule";
  if (one.full)
    return one.spread
      ? "every reading of the view; the shade is its uncertainty, k = 2"
      : "every reading of the view, as a line from one to the next";
  const step =
    one.step_s >= DAY
      ? `${Math.round(one.step_s / DAY)} d`
      : one.step_s >= 3600
        ? `${Math.round(one.step_s / 3600)} h`
        : `${Math.max(1, Math.round(one.step_s / 60))} min`;
  return `mean of each ${step}; the shade goes from the lowest to the highest reading in it`;
}

/** A bucket alone between two gaps has no line: it gets a dot, so that nothing disappears. */
export function drawLonely(u, series) {
  const pen = u.ctx;
  pen.save();
  series.forEach((_, s) => {
    const values = u.data[3 * s + 3];
    const known = (k, step) => {
      for (let at = k + step; at >= 0 && at < values.length; at += step)
        if (values[at] !== undefined) return values[at] !== null;
      return false;
    };
    pen.fillStyle = lineOf(s).stroke;
    values.forEach((value, k) => {
      if (!Number.isFinite(value) || known(k, -1) || known(k, 1)) return;
      pen.beginPath();
      pen.arc(
        u.valToPos(u.data[0][k], "x", true),
        u.valToPos(value, "y", true),
        3 * devicePixelRatio,
        0,
        2 * Math.PI,
      );
      pen.fill();
    });
  });
  pen.restore();
}

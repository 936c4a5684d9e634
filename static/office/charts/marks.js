// Shapes of marks as paths, for a canvas and for a drawing alike; templates/_mark.html draws the
// shapes of the flow states in HTML. A shape says what its colour says too.
import { svgEl } from "./nodes.js";

export const GAUGING = "gauging";

const round = (x) => Math.round(x * 100) / 100;
const poly = (points) => `M${points.map(([x, y]) => `${round(x)} ${round(y)}`).join("L")}Z`;
const dot = (x, y, r) =>
  `M${round(x - r)} ${round(y)}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`;
const triangle = (x, y, r) =>
  poly([
    [x, y - r],
    [x + r, y + r * 0.8],
    [x - r, y + r * 0.8],
  ]);

/** The path of a mark: of a flow state (its number) or of a gauging, a diamond. */
function pathOf(code, x, y, r) {
  if (code === 0 || code === 1) return dot(x, y, r * 0.8);
  if (code === 2 || code === 3) return triangle(x, y, r);
  if (code === 4) return `M${round(x - r)} ${round(y)}L${round(x + r)} ${round(y)}`;
  if (code === GAUGING) {
    const out = r * 1.3;
    return poly([
      [x, y - out],
      [x + out, y],
      [x, y + out],
      [x - out, y],
    ]);
  }
  return `M${round(x - r)} ${round(y - r)}L${round(x + r)} ${round(y + r)}M${round(x + r)} ${round(y - r)}L${round(x - r)} ${round(y + r)}`;
}

const filled = (code) => code === 0 || code === 2;

/** Draw the mark of a flow state or a gauging at x, y with a radius in device pixels. */
export function drawMark(pen, code, x, y, r) {
  const path = new Path2D(pathOf(code, x, y, r));
  if (filled(code)) pen.fill(path);
  else pen.stroke(path);
}

/** The same mark in a drawing. */
export const svgMark = (code, x, y, r, colour) =>
  svgEl("path", {
    d: pathOf(code, x, y, r),
    fill: filled(code) ? colour : "none",
    stroke: colour,
    "stroke-width": 1.8,
  });

/** The path of the flag that says "look at the words" above a mark. */
function flagOf(x, y, r) {
  const foot = y - r * 1.5;
  return `M${round(x)} ${round(foot)}V${round(foot - r * 2)}L${round(x + r * 1.4)} ${round(foot - r * 1.4)}L${round(x)} ${round(foot - r * 0.8)}`;
}

export const drawFlag = (pen, x, y, r) => pen.stroke(new Path2D(flagOf(x, y, r)));
export const svgFlag = (x, y, r, colour) =>
  svgEl("path", { d: flagOf(x, y, r), fill: "none", stroke: colour, "stroke-width": 1.5 });

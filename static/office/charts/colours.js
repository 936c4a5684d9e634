// The colours of charts, from the tokens, and the looks by which lines are told apart.

const css = getComputedStyle(document.documentElement);
const colour = (name) => css.getPropertyValue(name).trim();
export const INK = colour("--ink");
export const QUIET = colour("--quiet");
export const ACCENT = colour("--accent");
export const SOFT = colour("--wash");
export const GRID = colour("--line");
export const WARN = colour("--warn-line");
export const BAD = colour("--bad");
export const PAPER = colour("--card");
export const WARN_PAPER = colour("--warn-paper");
export const BAD_PAPER = colour("--bad-paper");
export const FONT = "13px system-ui, sans-serif";

// A line is told from another by its dashes and its colour.
const DASHES = [[], [9, 4], [2, 3], [12, 3, 2, 3], [5, 2], [1, 5]];

const LINES = DASHES.map((dash, k) => ({
  stroke: colour(`--chart-${k + 1}`),
  fill: colour(`--chart-${k + 1}-fill`),
  edge: colour(`--chart-${k + 1}-edge`),
  dash,
}));
export const lineOf = (k) => LINES[k % LINES.length];

/**
 * Velocity-area: verticals across the section. What is typed is kept in `part`; `observed` makes
 * the entry of it and `work` the sums. The boxes are in velocity/form.js.
 */
import { BadInput } from "../../../shared/bad_input.js";
import { fill } from "../../../shared/dom.js";
import { drawSection } from "../../../shared/gauging_picture.js";
import { COMPONENTS, meterVelocity, velocityArea } from "../../sums/gaugings.js";
import { blank, figure, figures, typed } from "../figures.js";
import { emptyRow, isBlankRow, MODES, numbersOf, typedRows } from "./velocity/rows.js";

export { draw } from "./velocity/form.js";

export const key = "velocity_area";
export const title = "Velocity-area";
export const hint = "Current meter and tape. Even bed, deeper than about 0.1 m. 5 to 10 %.";
export const wading = true;

/** Depth x speed, m2/s, at which the moving-water caution speaks up; below the rule's 1. */
const WADING_CARE = 0.7;
const THIGH_M = 0.7; // about; common practice

export const empty = () => ({
  section: "mid",
  how: "velocity",
  pieces: [["0", "", ""]],
  first: emptyRow(),
  firstKind: "bank",
  rows: [emptyRow()],
  last: emptyRow(),
  lastKind: "bank",
  open: 0,
  meter: "individual",
  components: {},
});

export const begun = (part) => ![part.first, ...part.rows, part.last].every(isBlankRow);

function verticalOf(row, how, edge) {
  const points = {};
  for (const at of MODES[row.mode]) {
    const { velocity = "", counts = "", seconds = "" } = row.points[at] ?? {};
    if (how === "counts" && (!blank(counts) || !blank(seconds)))
      points[at] = { velocity_ms: null, counts: typed(counts), seconds: typed(seconds) };
    else if (how === "velocity" && !blank(velocity))
      points[at] = { velocity_ms: velocity.trim(), counts: null, seconds: null };
  }
  return {
    distance_m: row.distance.trim(),
    depth_m: edge === "bank" && blank(row.depth) ? "0" : row.depth.trim(),
    points,
  };
}

export function observed(part) {
  const { rows, numbers } = typedRows(part);
  const changed = Object.fromEntries(
    Object.entries(part.components).filter(([, value]) => value !== null),
  );
  return {
    method: key,
    section: part.section,
    // an edge that is not typed yet: the outermost vertical stands in for it and carries nothing
    edges: [
      numbers.has("first") ? part.firstKind : "bank",
      numbers.has("last") ? part.lastKind : "bank",
    ],
    meter_pieces:
      part.how === "counts"
        ? part.pieces
            .filter((piece) => piece.slice(1).some((each) => !blank(each)))
            .map((piece) => piece.map((each) => each.trim()))
        : [],
    verticals: rows.map(({ row, kind }) => verticalOf(row, part.how, kind)),
    components: Object.keys(changed).length ? changed : null,
  };
}

/** What keeps a section from being whole, though its sum so far can be shown. */
export function unfinished(part) {
  const { numbers } = typedRows(part);
  if (!numbers.has("first"))
    return new BadInput("first edge", "none", "is needed", "Read the tape where the water begins.");
  if (!numbers.has("last"))
    return new BadInput("last edge", "none", "is needed", "Read the tape where the water ends.");
  return null;
}

/** The vertical of a refusal, opened: "verticals", its number among the typed ones, what of it. */
export function boxOf(box, part, [field, index, more]) {
  if (field === "edges") return box.querySelector('[data-edge="first"]');
  if (field !== "verticals") return null;
  const place = [...numbersOf(part)].find(([, number]) => number === Number(index))?.[0];
  if (place === "first" || place === "last") return box.querySelector(`[data-edge="${place}"]`);
  box.querySelector(`button.closed[data-row="${place}"]`)?.click();
  const row = box.querySelector(`section[data-row="${place}"]`);
  return row?.querySelector(`[name="${more}-${place}"]`) ?? row;
}

function velocityOf(name, point, pieces) {
  if (!blank(point.velocity_ms)) return figure(name, point.velocity_ms);
  if (blank(point.counts)) return null;
  const counts = figure(`${name} counts`, point.counts);
  const seconds = figure(`${name} seconds`, point.seconds);
  try {
    return meterVelocity({ counts, seconds, pieces });
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    throw new BadInput(`${name} ${error.field}`, error.value, error.rule, error.remedy);
  }
}

function component(name, value) {
  const isTable = Array.isArray(value);
  if (name in COMPONENTS && isTable !== Array.isArray(COMPONENTS[name])) {
    const kind = isTable ? "a number" : "a table of pairs";
    throw new BadInput(`component ${name}`, "other", `is ${kind}`, "Type the component again.");
  }
  return isTable ? value.map((pair) => figures(name, pair)) : figure(name, value);
}

export function work(seen) {
  const pieces = (seen.meter_pieces ?? []).map((row, i) => figures(`meter equation ${i + 1}`, row));
  const verticals = seen.verticals.map((vertical, i) => {
    const name = `vertical ${i + 1}`;
    const row = {};
    for (const field of ["distance_m", "depth_m"])
      row[field] = vertical[field] === "" ? "" : figure(`${name} ${field}`, vertical[field]);
    for (const [at, point] of Object.entries(vertical.points ?? {})) {
      const velocity = velocityOf(`${name} ${at}`, point, pieces);
      if (velocity !== null) row[at] = velocity;
    }
    return row;
  });
  const components = Object.fromEntries(
    Object.entries(seen.components ?? {}).map(([name, value]) => [name, component(name, value)]),
  );
  return velocityArea({ verticals, method: seen.section, edges: seen.edges, components });
}

/**
 * The sum of the verticals that are whole, while another is being typed: its `places` say which
 * of the typed ones are in it. Null when they do not make a section either.
 */
export function soFar(seen) {
  const last = seen.verticals.length - 1;
  const whole = (vertical, i) => {
    const edge = i === 0 ? seen.edges[0] : i === last ? seen.edges[1] : "";
    return (
      !blank(vertical.distance_m) &&
      !blank(vertical.depth_m) &&
      (edge === "bank" || Object.keys(vertical.points).length > 0)
    );
  };
  const places = seen.verticals.map((_, i) => i).filter((i) => whole(seen.verticals[i], i));
  if (places.length === seen.verticals.length) return null;
  try {
    return { ...work({ ...seen, verticals: places.map((i) => seen.verticals[i]) }), places };
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    return null;
  }
}

/** Where depth times speed comes near the wading limit, in words; null where it does not. */
export function wadingWords(result) {
  if (!result) return null;
  let worst = null;
  result.depth_m.forEach((depth, i) => {
    const product = depth * Math.abs(result.velocity_ms[i]);
    if (worst === null || product > worst.product)
      worst = { product, depth, at: result.distance_m[i] };
  });
  if (worst.product >= WADING_CARE) {
    return `At ${worst.at.toFixed(2)} m depth times speed is ${worst.product.toFixed(2)}: ${worst.product >= 1 ? "at or over" : "near"} the limit of 1. Come out of the water and gauge another way. Local rules come first.`;
  }
  const deepest = Math.max(...result.depth_m);
  return deepest > THIGH_M
    ? `The water is ${deepest.toFixed(2)} m deep: above the thigh of many. Do not wade there. Local rules come first.`
    : null;
}

export function picture(box, _seen, result) {
  return result ? drawSection(box, result) : fill(box);
}

function rowOf(vertical) {
  const keys = Object.keys(vertical.points ?? {});
  const mode = keys.includes("v02") ? (keys.includes("v06") ? "three" : "two") : "v06";
  const points = Object.fromEntries(
    Object.entries(vertical.points ?? {}).map(([at, { velocity_ms, counts, seconds }]) => [
      at,
      {
        velocity: String(velocity_ms ?? ""),
        counts: String(counts ?? ""),
        seconds: String(seconds ?? ""),
      },
    ]),
  );
  return { distance: String(vertical.distance_m), depth: String(vertical.depth_m), mode, points };
}

export function fromObserved(seen) {
  const rows = seen.verticals.map(rowOf);
  const pieces = seen.meter_pieces ?? [];
  return {
    ...empty(),
    section: seen.section,
    how: pieces.length ? "counts" : "velocity",
    pieces: pieces.length ? pieces.map((piece) => piece.map(String)) : [["0", "", ""]],
    first: rows[0] ?? emptyRow(),
    firstKind: seen.edges[0],
    rows: rows.slice(1, -1),
    last: rows.length > 1 ? rows.at(-1) : emptyRow(),
    lastKind: seen.edges[1],
    open: null,
    components: seen.components ?? {},
  };
}

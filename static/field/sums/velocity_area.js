/**
 * Velocity-area on the phone: verticals across a section, mid-section or mean-section.
 *
 * The same steps, keys and errors as app/hydraulics/gauging/velocity_area.py, where sources and provenance
 * are; tests/tables/gaugings_vectors.json proves the two equal.
 *
 *   velocityArea({verticals, method?: "mid"|"mean", edges?: "bank"|"wall"|[first, last], components?})
 *   meanVelocity(row, field?) -> [velocity, points]   meterVelocity({counts, seconds, pieces})
 *   COMPONENTS: the editable tables of standard uncertainties in %, from memory where the server says so
 */

import { BadInput } from "../../shared/bad_input.js";
import { counted } from "../../shared/counted.js";
import { thresholds } from "../base/thresholds.js";
import { typedFigure } from "../typed/number_words.js";
import { general, sum } from "./statistics.js";

const limits = thresholds.gaugings;

const WIDTH_VERTICALS = [
  [0.5, 5],
  [1, 6],
  [3, 7],
  [5, 13],
  [Infinity, 22],
];
const POINTS = ["v", "v02", "v06", "v08"];
const DUST = 1e-9;

export const COMPONENTS = {
  systematic_pct: 1,
  width_pct: 0.5,
  depth_pct: 1,
  verticals: [
    [5, 7.5],
    [10, 4.5],
    [15, 3],
    [20, 2.5],
    [25, 2],
    [30, 1.5],
    [35, 1],
    [45, 1],
  ],
  points: [
    [1, 7.5],
    [2, 3.5],
    [3, 3],
    [5, 2.5],
  ],
  meter: [
    [0.03, 10],
    [0.1, 2.5],
    [0.15, 1.25],
    [0.25, 1],
    [0.5, 0.5],
  ],
  exposure: [
    [0.05, 20],
    [0.1, 11],
    [0.2, 4],
    [0.5, 3],
  ],
};

const blank = (value) => value === null || value === undefined || value === "";

function number(field, value) {
  return typedFigure(field, value, { high: 999 });
}

/** Linear in the table, held at its ends. */
export function componentPct(table, value) {
  const after = table.findIndex(([key]) => value <= key);
  if (after === 0) return table[0][1];
  if (after < 0) return table.at(-1)[1];
  const [[x0, y0], [x1, y1]] = [table[after - 1], table[after]];
  return y0 + ((y1 - y0) * (value - x0)) / (x1 - x0);
}

export function meanVelocity(row, field = "v") {
  const given = POINTS.filter((key) => !blank(row[key]));
  const at = Object.fromEntries(given.map((key) => [key, number(`${field} ${key}`, row[key])]));
  switch (given.join()) {
    case "v": {
      const points = number(`${field} points`, row.points || 1);
      if (points < 1)
        throw new BadInput(`${field} points`, points, "is one or more", "Leave it out for one.");
      return [at.v, Math.trunc(points)];
    }
    case "v06":
      return [at.v06, 1];
    case "v02,v08":
      return [(at.v02 + at.v08) / 2, 2];
    case "v02,v06,v08":
      return [(at.v02 + 2 * at.v06 + at.v08) / 4, 3];
    default:
      throw new BadInput(
        field,
        given.join(", ") || "none",
        "a vertical has one, two or three points",
        "Give v, or v06, or v02 with v08, or all three.",
      );
  }
}

/** Pieces of the meter's own equation: [revolutions a second from which it holds, slope, offset]. */
export function meterVelocity({ counts, seconds, pieces }) {
  if (!(seconds > 0))
    throw new BadInput("seconds", seconds, "must be more than zero", "Time the counts again.");
  if (counts < 0) throw new BadInput("counts", counts, "must not be below zero", "Count again.");
  if (pieces.length === 0)
    throw new BadInput(
      "pieces",
      "none",
      "a meter has an equation",
      "Copy it from the meter's card.",
    );
  if (counts === 0) return 0;
  const pace = counts / seconds;
  const ordered = [...pieces].sort((a, b) => a[0] - b[0]);
  const [, slope, offset] = ordered.filter((piece, i) => i === 0 || piece[0] <= pace).at(-1);
  return slope * pace + offset;
}

function columns(rows, ends) {
  if (rows.length < 3)
    throw new BadInput(
      "verticals",
      rows.length,
      "a section needs three verticals or more",
      "Add both water's edges and at least one between.",
    );
  const read = rows.map((row, i) => {
    const name = `vertical ${i + 1}`;
    for (const key of ["distance_m", "depth_m"]) {
      if (blank(row[key])) throw new BadInput(`${name} ${key}`, "none", "is needed", "Measure it.");
    }
    const [b, d] = [
      number(`${name} distance_m`, row.distance_m),
      number(`${name} depth_m`, row.depth_m),
    ];
    if (d < 0)
      throw new BadInput(`${name} depth_m`, d, "must not be below zero", "Write it positive.");
    const edge = i === 0 ? ends[0] : i === rows.length - 1 ? ends[1] : "";
    const still = POINTS.every((key) => blank(row[key]));
    const [v, points] = !still || (d > 0 && edge !== "bank") ? meanVelocity(row, name) : [0, 1];
    return { b, d, v, points };
  });
  const way = read.at(-1).b < read[0].b ? -1 : 1;
  read.forEach(({ b }, i) => {
    if (i > 0 && way * (b - read[i - 1].b) <= 0) {
      throw new BadInput(
        `vertical ${i + 1} distance_m`,
        b,
        "verticals go one way along the tape",
        `Put it in its place, or correct it: the one before is at ${general(read[i - 1].b)} m.`,
      );
    }
  });
  return read;
}

function uncertaintyParts(weight, read, wet, changes) {
  const unknown = Object.keys(changes)
    .filter((key) => !(key in COMPONENTS))
    .sort();
  if (unknown.length)
    throw new BadInput(
      "components",
      unknown[0],
      "no such component",
      `Use ${Object.keys(COMPONENTS).join(", ")}.`,
    );
  const table = { ...COMPONENTS, ...changes };
  const panels = sum(
    read.map(({ v, points }, i) => {
      const [u_p, u_c, u_e] = [
        componentPct(table.points, points),
        componentPct(table.meter, Math.abs(v)),
        componentPct(table.exposure, Math.abs(v)),
      ];
      return (
        weight[i] ** 2 *
        (table.width_pct ** 2 + table.depth_pct ** 2 + u_p ** 2 + (u_c ** 2 + u_e ** 2) / points)
      );
    }),
  );
  const u_m = componentPct(table.verticals, wet);
  return {
    systematic: 2 * table.systematic_pct,
    verticals: 2 * (wet < 5 ? (u_m * 5) / wet : u_m),
    panels: 2 * Math.sqrt(panels),
  };
}

function flagsOf(read, wet, ends, method, largest_pct, width) {
  const flags = [];
  if (largest_pct > limits.panel_limit_pct + DUST)
    flags.push(
      `largest panel carries ${largest_pct.toFixed(1)} %: over ${limits.panel_limit_pct} %`,
    );
  const least = WIDTH_VERTICALS.find(([limit]) => width < limit)[1];
  if (wet < least)
    flags.push(`${counted(wet, "vertical")} in the water: ${least} are asked at this width`);
  ["first", "last"].forEach((name, i) => {
    const depth = read.at(-i).d;
    if (method === "mid" && ends[i] === "bank" && depth > 0)
      flags.push(`${name} edge is ${general(depth)} m deep and carries nothing: is it a wall?`);
  });
  if (read.some(({ v }) => v < 0)) flags.push("water runs back at a vertical");
  if (read.some(({ d, points }) => points === 1 && d > limits.one_point_depth_m))
    flags.push(`one point in water deeper than ${limits.one_point_depth_m} m`);
  return flags;
}

/** Where one more vertical helps most: in the wider gap beside the largest panel. */
function nextVertical(b, share, largest, method) {
  if (method === "mean") return (b[largest] + b[largest + 1]) / 2;
  const left = largest > 0 ? Math.abs(b[largest] - b[largest - 1]) : -1;
  const right = largest < b.length - 1 ? Math.abs(b[largest + 1] - b[largest]) : -1;
  const level = Math.abs(right - left) <= DUST;
  const rightwards = level ? share[largest + 1] > share[largest - 1] + DUST : right > left;
  return (b[largest] + b[rightwards ? largest + 1 : largest - 1]) / 2;
}

export function velocityArea({ verticals, method = "mid", edges = "bank", components = null }) {
  if (method !== "mid" && method !== "mean")
    throw new BadInput("method", method, "is mid or mean", "Choose mid-section or mean-section.");
  const ends = typeof edges === "string" ? [edges, edges] : [edges[0], edges.at(-1)];
  if (ends.some((end) => end !== "bank" && end !== "wall"))
    throw new BadInput("edges", edges, "is bank or wall", "Choose one for each edge.");
  const read = columns(verticals, ends);
  const b = read.map((row) => row.b);
  const gap = b.slice(1).map((each, i) => Math.abs(each - b[i]));
  const half = b.map((_, i) => ((gap[i - 1] ?? 0) + (gap[i] ?? 0)) / 2);
  if (ends[0] === "bank") half[0] = 0;
  if (ends[1] === "bank") half[half.length - 1] = 0;
  const carried = read.map(({ d, v }, i) => half[i] * d * v);
  const depth = gap.map((_, i) => (read[i].d + read[i + 1].d) / 2);
  const panel_m3s =
    method === "mid"
      ? carried
      : gap.map((each, i) => ((read[i].v + read[i + 1].v) / 2) * depth[i] * each);
  const area_m2 =
    method === "mid"
      ? sum(read.map(({ d }, i) => half[i] * d))
      : sum(gap.map((each, i) => each * depth[i]));
  const discharge_m3s = sum(panel_m3s);
  if (!(discharge_m3s > 0) || !(sum(carried) > 0))
    throw new BadInput(
      "verticals",
      `${general(discharge_m3s)} m3/s`,
      "no flow down the race",
      "Check the velocities and their signs.",
    );
  const share_pct = panel_m3s.map((each) => (100 * each) / discharge_m3s);
  const largest_share_pct = Math.max(...share_pct);
  const largest = share_pct.findIndex((each) => each >= largest_share_pct);
  const wet = read.filter(({ d }, i) => half[i] > 0 && d > 0).length;
  const parts = uncertaintyParts(
    carried.map((each) => each / sum(carried)),
    read,
    wet,
    components ?? {},
  );
  const width_m = Math.abs(b.at(-1) - b[0]);
  return {
    method: `velocity-area ${method}-section`,
    discharge_m3s,
    uncertainty_pct: Math.hypot(...Object.values(parts)),
    parts,
    flags: flagsOf(read, wet, ends, method, largest_share_pct, width_m),
    indication_only: false,
    edges: ends,
    distance_m: b,
    depth_m: read.map(({ d }) => d),
    velocity_ms: read.map(({ v }) => v),
    panel_m3s,
    share_pct,
    area_m2,
    width_m,
    mean_velocity_ms: discharge_m3s / area_m2,
    verticals: wet,
    largest_share_pct,
    next_vertical_m:
      largest_share_pct > limits.panel_limit_pct + DUST
        ? nextVertical(b, share_pct, largest, method)
        : null,
  };
}

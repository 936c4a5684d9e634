/** The rows of a velocity-area gauging: edges and verticals as typed, and which of them count. */
import { blank } from "../../figures.js";

export const MODES = { v06: ["v06"], two: ["v02", "v08"], three: ["v02", "v06", "v08"] };

export const emptyRow = (mode = "v06") => ({ distance: "", depth: "", mode, points: {} });

const rowText = (row) => [
  row.distance,
  row.depth,
  ...Object.values(row.points).flatMap((each) => [each.velocity, each.counts, each.seconds]),
];
export const isBlankRow = (row) => rowText(row).every(blank);

/** The verticals that are typed, in their places; where each stands among them is `numbers`. */
export function typedRows(part) {
  const rows = [
    { row: part.first, kind: part.firstKind, place: "first" },
    ...part.rows.map((row, i) => ({ row, kind: "", place: i })),
    { row: part.last, kind: part.lastKind, place: "last" },
  ].filter(({ row, place }) =>
    place === "first" || place === "last" ? !blank(row.distance) : !isBlankRow(row),
  );
  return { rows, numbers: new Map(rows.map(({ place }, i) => [place, i])) };
}

export const numbersOf = (part) => typedRows(part).numbers;

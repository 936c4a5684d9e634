/**
 * Benchmarks that moved, found from the differences between marks alone.
 *
 * The same steps as moved_marks in app/hydraulics/levelling/benchmarks.py; tests/tables/install_vectors.json
 * proves the two equal. `history`: [{mark: reduced level, m}], oldest first, each in its own datum.
 */
import { thresholds } from "../base/thresholds.js";

const limits = thresholds.levelling;
const DUST = 1e-9;

/** The sign as Python's "+.1f" writes it. */
const signed = (value) => `${value < 0 || Object.is(value, -0) ? "" : "+"}${value.toFixed(1)}`;

/** The largest group of marks that kept their differences; of two as large the first. */
function agreeing(shared, change, tolerance_m) {
  const groups = shared.map((mark) =>
    shared.filter((other) => Math.abs(change[other] - change[mark]) <= tolerance_m + DUST),
  );
  return groups.reduce((best, group) => (group.length > best.length ? group : best), []);
}

export function movedMarks({ history, tolerance_m = limits.mark_tolerance_m }) {
  const moves = [];
  const reference = {};
  history.forEach((levels, run) => {
    const shared = Object.keys(levels).filter((mark) => mark in reference);
    const change = Object.fromEntries(shared.map((mark) => [mark, levels[mark] - reference[mark]]));
    const group = agreeing(shared, change, tolerance_m);
    let datum = group.length
      ? group.reduce((total, mark) => total + change[mark], 0) / group.length
      : 0;
    const strays = shared.filter((mark) => !group.includes(mark));
    let renewed = strays;
    if (strays.length && 2 * group.length > shared.length) {
      for (const mark of strays) {
        const moved_m = change[mark] - datum;
        moves.push({
          run,
          marks: [mark],
          moved_m,
          certain: true,
          words: `${mark} moved ${signed(moved_m * 1000)} mm`,
        });
      }
    } else if (strays.length) {
      const apart = Math.max(...Object.values(change)) - Math.min(...Object.values(change));
      const words = `one of ${shared.join(", ")} moved: they differ by ${(apart * 1000).toFixed(1)} mm more than before; level to a third mark`;
      moves.push({ run, marks: shared, moved_m: apart, certain: false, words });
      datum = 0;
      renewed = shared;
    }
    for (const [mark, level] of Object.entries(levels)) {
      if (!(mark in reference) || renewed.includes(mark)) reference[mark] = level - datum;
    }
  });
  return moves;
}

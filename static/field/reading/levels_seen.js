/**
 * Where the water stands beside the staff and over the crest, to compare by eye with what is there.
 * Heights are to scale among themselves; lengths along the race are not.
 */
const HEIGHT_PX = 170;
const EDGE_PX = 14;
const STEPS_M = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1];
const MOST_NUMBERS = 7;
const PARTS = 5; // small marks between two numbers
const BELOW = 0.3; // of the range drawn below the crest, so that the floor and a low tail are seen
const PER_METRE = { mm: 1000, cm: 100, m: 1 };

/**
 * The picture in pixels from the top: {crest, water, tail, floor, marks: [{y, words}]}.
 *
 * `crest_m` is the crest on the staff, `high_m` the highest usual reading, `staff_m` and `tail_m`
 * what was read on the same scale, null where nothing was. `water` and `tail` are null then.
 */
export function levelsSeen({ crest_m, high_m, staff_m = null, tail_m = null, unit = "mm" }) {
  const read = [staff_m, tail_m].filter((each) => each !== null);
  const top_m = Math.max(high_m, crest_m + 0.05, ...read);
  const bottom_m = Math.min(crest_m - BELOW * (top_m - crest_m), ...read);
  const scale = (HEIGHT_PX - 2 * EDGE_PX) / (top_m - bottom_m);
  const y = (level_m) => (level_m === null ? null : EDGE_PX + (top_m - level_m) * scale);
  const step = STEPS_M.find((each) => (top_m - bottom_m) / each <= MOST_NUMBERS) ?? STEPS_M.at(-1);
  const small = step / PARTS;
  const marks = [];
  for (let i = Math.ceil(bottom_m / small - 1e-9); i * small <= top_m + 1e-9; i++)
    marks.push({
      y: y(i * small),
      words: i % PARTS ? "" : String(Number((i * small * PER_METRE[unit]).toPrecision(9))),
    });
  return {
    crest: y(crest_m),
    floor: HEIGHT_PX - EDGE_PX / 2,
    water: y(staff_m),
    tail: y(tail_m),
    marks,
    height: HEIGHT_PX,
  };
}

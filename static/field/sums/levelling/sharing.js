/** How a misclosure is judged and shared: by set-up, by distance, or a limit given. */
import { BadInput } from "../../../shared/bad_input.js";
import { thresholds } from "../../base/thresholds.js";
import { blank, FOOT, number } from "./sights.js";

const limits = thresholds.levelling;

const NOT_BY_DISTANCE =
  "lengths of the sights not all booked: the misclosure is shared equally by set-up";

function positive(field, value, remedy) {
  if (!(value > 0)) throw new BadInput(field, value ?? "none", "must be more than zero", remedy);
  return value;
}

export function misclosureLimitMm({ rule, setups, distance_km = null, limit_mm = null }) {
  if (rule === "setups")
    return Math.min(limits.setup_limit_ft * Math.sqrt(setups), limits.most_ft) * FOOT * 1000;
  if (rule === "ordinary") return limits.ordinary_mm * Math.sqrt(setups);
  if (rule === "distance")
    return (
      limits.distance_mm * Math.sqrt(positive("distance_km", distance_km, "Give the length in km."))
    );
  if (rule === "fixed") return positive("limit_mm", limit_mm, "Give the limit in mm.");
  throw new BadInput(
    "rule",
    rule,
    "no such rule of misclosure",
    "Choose one of setups, distance, ordinary, fixed.",
  );
}

/** Length of every sight, m; null where none was booked (app/hydraulics/levelling/book.py, sight_lengths). */
function sightLengths(rows, sights) {
  return sights.map(({ row: place, kind }) => {
    const row = rows[place - 1];
    const alone = sights.filter((one) => one.row === place).length === 1;
    const key = blank(row[`${kind}_distance_m`]) && alone ? "distance_m" : `${kind}_distance_m`;
    if (blank(row[key])) return null;
    const length = number(`row ${place} ${key}`, row[key]);
    if (!(length > 0 && length <= limits.longest_sight_m)) {
      throw new BadInput(
        `row ${place} ${key}`,
        row[key],
        `a sight is longer than 0 and at most ${limits.longest_sight_m} m`,
        "Pace or tape it from the instrument to the staff.",
      );
    }
    return length;
  });
}

/** How the misclosure is shared out: {through, shared_by, distance_km, told}. */
export function sharing(rows, sights, { rule, setups, distance_km, closed }) {
  const evenly = {
    through: Array.from({ length: setups + 1 }, (_, i) => i / setups),
    shared_by: "set-up",
    distance_km,
    told: [],
  };
  if (rule !== "distance") return evenly;
  const lengths = sightLengths(rows, sights);
  if (sights.some(({ kind }, i) => kind !== "is" && lengths[i] === null))
    return { ...evenly, told: closed ? [NOT_BY_DISTANCE] : [] };
  const through = new Array(setups + 1).fill(0);
  sights.forEach(({ setup, kind }, i) => {
    if (kind !== "is") through[setup] += lengths[i];
  });
  for (let i = 1; i <= setups; i += 1) through[i] += through[i - 1];
  const total = through[setups];
  const km = distance_km ?? total / 1000;
  const told =
    Math.abs((km * 1000) / total - 1) <= 0.1
      ? []
      : [
          `the run is said to be ${(km * 1000).toFixed(0)} m, its sights add up to ${total.toFixed(0)} m: check the lengths`,
        ];
  return {
    through: through.map((each) => each / total),
    shared_by: "distance",
    distance_km: km,
    told,
  };
}

/** A recorded install stop or dimension check back in its form, to put it right. */

import { length, text } from "../typed/text.js";
import { emptyStop } from "./entry.js";
import { PARTS } from "./parts.js";

/** Every figure of a body under the name of its box. */
function figures(body) {
  const { corners, widths, box, concrete, creep, tail } = body;
  return {
    ...corners,
    ...corners?.readings_m,
    ...widths,
    ...box,
    ...concrete?.parts_m3,
    void_m3: concrete?.void_m3 || null,
    ...creep,
    ...tail,
    water_depth_m: box?.water_depth_m ?? null,
    tail_water_depth_m: tail?.water_depth_m ?? null,
    tolerance: body.corner_tolerance_m,
    width_limit: body.width_limit_m,
    lift_m: body.lift_m,
    base_height_m: body.base_height_m,
    delivered: body.delivered,
    hold_down_kn: box?.hold_down_kn || null,
  };
}

function typed(value, unit) {
  if (Array.isArray(value)) return value.join(" ");
  return ["mm", "m"].includes(unit) ? length(value, unit) : text(value);
}

export function valuesOfStop({ body }, id) {
  const empty = emptyStop(id, body.stop);
  const found = figures(body);
  const fields = {};
  for (const [name, , unit] of Object.values(PARTS).flatMap((part) => part.fields)) {
    fields[name] = typed(found[name], unit) || (empty.fields[name] ?? "");
  }
  const { moment, seen, weather, note, went_on } = body;
  return { ...empty, fields, moment, seen, weather, note, went_on };
}

/** Texts of the boxes of a dimension check, in mm. */
export function textsOfDimensions({ body }) {
  const texts = Object.fromEntries(
    body.dimensions.map(({ key, measured_m }) => [
      key,
      measured_m.map((each) => length(each, "mm")).join(" "),
    ]),
  );
  return { ...texts, instrument: body.instrument };
}

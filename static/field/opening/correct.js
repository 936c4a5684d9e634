/** An opening back in the form, to put it right. */

import { box, boxSeconds, length } from "../typed/text.js";
import { emptyOpening } from "./entry.js";

export function valuesOfOpening({ body }, id, { head_unit, utc_offset_min }) {
  const { sensor, clock } = body;
  const figure = (metres) => length(metres, head_unit);
  return {
    ...emptyOpening(id, head_unit),
    gate: body.gate,
    heads: body.heads,
    seeps: body.seeps,
    seep_note: body.seep_note,
    sensor_staff: figure(sensor?.staff_m),
    sensor_before: figure(sensor?.before_m),
    sensor_after: figure(sensor?.after_m),
    sensor_at: sensor?.at ?? "",
    clock_right: clock?.right ?? "",
    clock_before: boxSeconds(clock?.before, utc_offset_min),
    clock_after: boxSeconds(clock?.after, utc_offset_min),
    gaugings: body.gauging_ids,
    fit: Boolean(body.fit_from),
    fit_from: box(body.fit_from, utc_offset_min),
    fit_words: body.fit_words,
    note: body.note,
  };
}

/** A head reading back in the form, to correct it or to put it right. */

import { length } from "../typed/text.js";
import { emptyReading, NOT_ANSWERED } from "./empty.js";

/** Form values from an entry, to correct it. */
export function valuesOf(entry, id, toBox) {
  const { body } = entry;
  const unit = body.entered?.unit ?? "m";
  const texts = body.entered?.text ?? body.staff_m.map(String);
  const asked = body.asked ?? [];
  const open = asked.filter(({ answer }) => answer === NOT_ANSWERED).map(({ typed }) => typed);
  return {
    ...emptyReading(id, unit, body.occasion),
    heads: texts.map((text, i) => ({ text, at: body.read_at?.[i] ?? null })),
    answers: asked.filter(({ answer }) => answer !== NOT_ANSWERED),
    kept: [...texts, ...(body.as_typed ?? [])].filter((text) => !open.includes(text.trim())),
    dry: Boolean(body.dry),
    tail: body.tailwater.state,
    tail_text: body.tailwater.text ?? "",
    sensor_text: length(body.sensor_head_m, unit),
    conditions: body.conditions ?? [],
    gate: body.gate_opened_at ? toBox(body.gate_opened_at) : "",
    time: body.time_reason || !body.read_at ? toBox(entry.observed_at) : "",
    time_reason: body.time_reason ?? "",
    note: body.note ?? "",
  };
}

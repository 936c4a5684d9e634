/** A stored level run back in the book, to correct it. */

import { box } from "../typed/text.js";
import { emptyRun } from "./entry.js";

/** A level never reaches a thousand, so that its plain spelling has one meaning. */
const text = (value) => String(value ?? "");
const millimetres = (metres) => text(Math.round(metres * 1e6) / 1e3);

export function valuesOfRun({ body }, id, utcOffsetMin = 0) {
  const sights = body.rows.flatMap((row) =>
    ["fs", "is", "bs"]
      .filter((kind) => row[kind] !== null && row[kind] !== undefined)
      .map((kind) => ({
        kind,
        point: row.point,
        role: row.role,
        text: text(row[kind]),
        distance_text: text(row[`${kind}_distance_m`] ?? row.distance_m),
        struck: row.struck ?? [],
      })),
  );
  const empty = emptyRun(id);
  const peg = body.peg_test
    ? Object.fromEntries(Object.entries(body.peg_test).map(([key, value]) => [key, text(value)]))
    : empty.peg;
  const last = sights.at(-1);
  return {
    ...empty,
    unit: body.unit,
    start_text: text(body.start_rl),
    close_text: text(body.close_rl),
    sights,
    peg,
    next:
      last?.kind === "fs"
        ? { kind: "bs", point: last.point, role: last.role, text: "" }
        : { ...empty.next, kind: "is", role: "other" },
    rule: body.rule.name,
    distance_text: text(body.rule.distance_km),
    limit_text: text(body.rule.limit_mm),
    adjusted: body.adjusted,
    staff_text: text(body.staff_mark_m),
    tail_text: text(body.tail_mark_m),
    tolerance_text: millimetres(body.corner_tolerance_m),
    low_head_text: millimetres(body.low_head_m),
    instrument: body.instrument,
    instrument_id: String(body.instrument_id ?? ""),
    note: body.note,
    set_zero: Boolean(body.set_zero),
    zero_from: box(body.set_zero?.from, utcOffsetMin),
    zero_reason: body.set_zero?.reason ?? "",
    accepted_text: body.set_zero?.accepted_because ?? "",
  };
}

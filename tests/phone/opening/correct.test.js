/** An opening comes back to its form. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { valuesOfOpening } from "../../../static/field/opening/correct.js";
import { emptyOpening, openingEntry } from "../../../static/field/opening/entry.js";

const SITE = { id: 1, head_unit: "mm", utc_offset_min: 720 };

const NOW = "2026-11-25T10:00:00.000Z";

test("an opening comes back whole and keeps the times of what was done", () => {
  const values = {
    ...emptyOpening("a", "mm"),
    gate: [{ at: "2026-11-25T08:00:00.000Z", opening: "2 turns" }],
    heads: [{ at: "2026-11-25T08:10:00.000Z", staff_m: 0.2515, tail_staff_m: null }],
    seeps: { toe: "clear" },
    gaugings: ["g"],
    sensor_staff: "251.5",
    sensor_before: "249",
    sensor_after: "251.5",
    clock_right: "2026-11-25T08:20:00.000Z",
    clock_before: "2026-11-25T20:19:31",
    clock_after: "2026-11-25T20:20:00",
    fit: true,
    fit_from: "2026-11-25T21:00",
    fit_words: "w",
    note: "n",
    seep_note: "s",
  };
  const context = { site: SITE, structure: { id: 1 }, visitId: null, personId: 1 };
  const found = { steady: { word: "steady" }, open: [] };
  const first = openingEntry(values, found, { ...context, now: NOW });
  const record = { entry: first, refusal: { field: "body.note" } };
  const back = valuesOfOpening(first, "b", SITE);
  const again = openingEntry(back, found, { ...context, record, now: "2026-11-26T10:00:00.000Z" });
  assert.deepEqual(again.body, first.body);
  assert.deepEqual([again.id, again.observed_at], ["b", first.observed_at]);
});

/** What a reading says on the spot: head, flow word, flags. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { assess, previewBody } from "../../../static/field/reading/assess.js";
import { powerTable } from "../power_table.js";

const rating = () => ({
  id: 7,
  valid_from: "2026-01-01T00:00:00Z",
  table: powerTable(),
});

function reading(staff_m, extra = {}) {
  return {
    staff_m,
    read_at: null,
    observed_at: "2026-11-25T09:15:00.000Z",
    tailwater: { state: "not_seen", staff_m: null, text: null },
    gate_opened_at: null,
    conditions: [],
    sensor_head_m: null,
    ...extra,
  };
}

test("staff 0.251 m, zero 99.223, crest 99.2235: head 0.2505 m (levelling arithmetic)", () => {
  const zero = {
    valid_from: "2026-01-01T00:00:00Z",
    offset_m: 99.223 - 99.2235,
    tail_offset_m: null,
  };
  const structure = {
    gauge_zeros: [zero],
    ratings: [rating()],
    head_uncertainty_m: 0.003,
    pond_area_m2: null,
  };
  const seen = assess(reading([0.251]), structure);
  assert.ok(Math.abs(seen.head_m - 0.2505) < 1e-9);
});

test("flags of the reading's own context", () => {
  const zero = { valid_from: "2025-01-01T00:00:00Z", offset_m: 0, tail_offset_m: null };
  const structure = {
    gauge_zeros: [zero],
    ratings: [rating()],
    head_uncertainty_m: 0.003,
    pond_area_m2: null,
  };
  const seen = assess(reading([0.2, 0.24], { conditions: ["surging"], sensor_head_m: 0.21 }), {
    ...structure,
    ratings: [{ ...rating(), valid_from: "2025-01-01T00:00:00Z" }],
  });
  assert.deepEqual(seen.flow.flags, [
    "surging",
    "repeats disagree",
    "zero overdue",
    "differs from sensor",
  ]);
  assert.equal(seen.flow.flow, "assumed free");
});

test("without a rating or a zero the reading is kept, not rated, in words", () => {
  const seen = assess(reading([0.2]), { gauge_zeros: [], ratings: [], head_uncertainty_m: 0.003 });
  assert.equal(seen.flow.flow, "not rated");
  assert.match(seen.flow.note, /gauge zero/);
  assert.deepEqual(previewBody(seen), {
    discharge_m3s: null,
    uncertainty_pct: null,
    flow: "not rated",
    flags: [],
    rating_id: null,
    table_hash: null,
  });
});

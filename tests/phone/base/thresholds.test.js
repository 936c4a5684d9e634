/** What the phone judges by: the server's numbers, as shipped or as the newest pack says. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { afterEach, test } from "node:test";
import { thresholds, useThresholds } from "../../../static/field/base/thresholds.js";
import { judge } from "../../../static/field/gauging/verdict.js";
import { openPoints } from "../../../static/field/opening/entry.js";
import { assess } from "../../../static/field/reading/assess.js";
import { misclosureLimitMm } from "../../../static/field/sums/levelling/sharing.js";
import { classify } from "../../../static/field/sums/steadiness.js";
import { ahead } from "../../../static/field/typed/ahead.js";
import { powerTable } from "../power_table.js";

const table = JSON.parse(readFileSync(new URL("../../tables/thresholds.json", import.meta.url)));
afterEach(() => useThresholds(undefined));

test("a phone without a pack judges by the server's table as shipped", () => {
  assert.deepEqual(thresholds, table);
});

test("a pack's numbers count, key by key; an old pack leaves what was shipped", () => {
  useThresholds({ readings: { repeats_range_m: 0.5 }, rooms_to_come: { a: 1 } });
  assert.equal(thresholds.readings.repeats_range_m, 0.5);
  assert.equal(thresholds.readings.far_under_m, table.readings.far_under_m);
  useThresholds(undefined);
  assert.deepEqual(thresholds, table);
});

test("what is no number is not taken", () => {
  useThresholds({ typed: { clock_skew_s: "300", like_named: null, like_named_mm: Number.NaN } });
  useThresholds({ steadiness: null, levelling: 3 });
  assert.deepEqual(thresholds, table);
});

const structure = {
  gauge_zeros: [{ valid_from: "2026-01-01T00:00:00Z", offset_m: 0, tail_offset_m: null }],
  ratings: [{ id: 1, valid_from: "2026-01-01T00:00:00Z", table: powerTable() }],
  head_uncertainty_m: 0.003,
  pond_area_m2: null,
};
const reading = {
  staff_m: [0.2, 0.24],
  read_at: null,
  observed_at: "2026-11-25T09:15:00.000Z",
  tailwater: { state: "not_seen", staff_m: null, text: null },
  gate_opened_at: null,
  conditions: [],
  sensor_head_m: null,
};

test("every judgement reads the number when it judges", () => {
  const repeats = () => assess(reading, structure).flow.flags.includes("repeats disagree");
  const steady = () => classify([0, 60, 120, 180], [0.2, 0.2005, 0.201, 0.2015]).word;
  const limit = () => misclosureLimitMm({ rule: "ordinary", setups: 4 });
  const skew = () => ahead("2026-11-25T10:20:00Z", "2026-11-25T10:00:00Z");
  const flow = { discharge_m3s: 0.11, uncertainty_pct: 1, flags: [], indication_only: false };
  const atHead = {
    head: { steady: true, word: "steady" },
    rated: { discharge_m3s: 0.1, uncertainty_pct: 20, flow: "free", flags: [] },
    lacking: "",
  };
  const verdict = () => judge(flow, atHead).verdict.reason;
  const before = [repeats(), steady(), limit(), Boolean(skew())];
  assert.deepEqual(before, [true, "settling", 10, true]);
  const reason = verdict();
  useThresholds({
    readings: { repeats_range_m: 0.1 },
    steadiness: { drift_limit_m: 0.02 },
    levelling: { ordinary_mm: 8 },
    typed: { clock_skew_s: 3600 },
    gaugings: { tolerance_pct: 5 },
  });
  assert.deepEqual([repeats(), steady() === "settling", limit(), skew()], [false, false, 16, ""]);
  assert.notEqual(verdict(), reason);
});

test("a sensor is held to the office's rule: 2 mm, or 1 % of the head (common practice)", () => {
  const values = (after, staff_m) => ({
    unit: "mm",
    seeps: {},
    gate: [],
    heads: [{ at: "2026-11-25T00:01:00.000Z", staff_m, tail_staff_m: null }],
    sensor_staff: "200",
    sensor_after: after,
    clock_right: null,
    clock_before: "",
    clock_after: "",
    gaugings: [],
  });
  const said = (after, staff_m) =>
    openPoints(values(after, staff_m), structure, structure.gauge_zeros[0], null, 720).join("\n");
  assert.match(said("202.5", 0.2), /sensor differs/);
  assert.doesNotMatch(said("202", 0.2), /sensor differs/);
  assert.doesNotMatch(said("204", 0.45), /sensor differs/);
  assert.match(said("205", 0.45), /sensor differs/);
});

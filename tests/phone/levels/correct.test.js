/** A level run comes back to its form. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { valuesOfRun } from "../../../static/field/levels/correct.js";

test("a level run keeps its wish to set the zero", () => {
  const body = {
    unit: "m",
    rows: [],
    start_rl: 100,
    close_rl: null,
    peg_test: null,
    rule: { name: "setups" },
    adjusted: false,
    staff_mark_m: null,
    tail_mark_m: null,
    corner_tolerance_m: 0.002,
    low_head_m: 0.1,
    instrument: "",
    note: "",
    set_zero: { from: "2026-11-25T08:00:00.000Z", reason: "moved" },
  };
  const { set_zero, zero_from, zero_reason } = valuesOfRun({ body }, "x", 720);
  assert.deepEqual([set_zero, zero_from, zero_reason], [true, "2026-11-25T20:00", "moved"]);
});

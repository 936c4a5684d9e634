/** A portable device rated by its table. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as portable from "../../../../static/field/gauging/methods/portable.js";
import { powerTable } from "../../power_table.js";

test("a portable device is rated by its table from the office, free drop or not", () => {
  const device = {
    key: "d",
    label: "D",
    family: "f",
    dims: {},
    described: "a plate",
    table: { ...powerTable(), drowned: null },
  };
  const seen = {
    method: "portable",
    device: { key: "d", family: "f", dims: {} },
    heads_mm: ["100", "102"],
    head_uncertainty_mm: null,
    free_seen: false,
  };
  const found = portable.work(seen, { portable: [device] });
  assert.ok(Math.abs(found.discharge_m3s / (0.69 * 0.101 ** 1.522) - 1) < 5e-4);
  assert.deepEqual(found.flags, ["portable device: free drop not seen"]);
  assert.deepEqual(portable.work({ ...seen, free_seen: true }, { portable: [device] }).flags, []);
  assert.throws(() => portable.work(seen, { portable: [] }), { field: "device" });
});

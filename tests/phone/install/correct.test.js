/** An install stop and its dimensions come back to their forms. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { textsOfDimensions, valuesOfStop } from "../../../static/field/install/correct.js";
import { emptyStop, stopBody } from "../../../static/field/install/entry.js";

test("an install stop comes back with every figure, and makes the same body", () => {
  const stop = {
    key: "S5",
    parts: ["moment", "lift", "box", "concrete", "corners", "widths", "creep", "tail", "delivered"],
    asks: [],
  };
  const fields = {
    ...emptyStop("x", "S5").fields,
    reference: "BM1",
    reference_rl_m: "100.25",
    backsight_m: "1.2035",
    corner_ul: "1.3005",
    corner_dr: "1.3",
    tolerance: "2",
    top_m: "304.8",
    bottom_m: "305.1",
    width_limit: "1",
    lift_m: "0.35",
    base_height_m: "0.9",
    length_m: "2.4",
    width_m: "1.1",
    water_depth_m: "0.4",
    concrete_depth_m: "0.3",
    mass_kg: "180",
    hold_down_kn: "1.5",
    target: "1.3",
    slab: "0.4",
    walls: "0.7",
    void_m3: "0.1",
    verticals_m: "0.6 0.6",
    horizontals_m: "2.5",
    head_m: "0.5",
    fall_m: "0.2",
    protection_m: "3",
    tail_water_depth_m: "0.25",
    scour: "none seen",
    delivered: "1 m3",
  };
  const typed = {
    ...emptyStop("x", "S5"),
    fields,
    moment: "during",
    seen: { level: "yes" },
    weather: "dry",
    note: "n",
    went_on: "go",
  };
  const { body, lacking } = stopBody(typed, stop);
  assert.deepEqual(lacking, []);
  const back = valuesOfStop({ body }, "y");
  assert.deepEqual(stopBody(back, stop).body, body);
  assert.equal(back.fields.top_m, "304.8");
});

test("dimensions come back as typed, in mm", () => {
  const body = {
    dimensions: [{ key: "throat", label: "Throat", measured_m: [0.3048, 0.305] }],
    instrument: "tape",
  };
  assert.deepEqual(textsOfDimensions({ body }), { throat: "304.8 305", instrument: "tape" });
});

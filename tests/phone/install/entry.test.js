/**
 * Install stops and openings from typed figures to entries. Limits 1 mm and 2 mm: common practice;
 * uplift of the invented box worked by hand (Archimedes).
 */
import assert from "node:assert/strict";
import { test } from "node:test";
import { stopBody } from "../../../static/field/install/entry.js";
import { BOX, CORNERS, STOP, typed } from "./made_up_stop.js";

test("figures become a body in metres, blanks stay unknown", () => {
  const { body, lacking } = stopBody(
    typed({ ...CORNERS, ...BOX, top_m: "400", middle_m: "399,5", slab: "0.6", lift_m: "0.3" }),
    STOP,
  );
  assert.deepEqual(lacking, []);
  assert.deepEqual(body.widths, { top_m: 0.4, middle_m: 0.3995, bottom_m: null });
  assert.equal(body.corners.backsight_m, 1.342);
  assert.equal(body.corner_tolerance_m, 0.002);
  assert.equal(body.box.target, 1.25);
  assert.deepEqual(body.concrete, { parts_m3: { slab: 0.6 }, void_m3: 0 });
  assert.equal(body.tail, null);
});

test("a width typed in metres, a list with a word and a half-filled section are asked about", () => {
  const lacking = (fields) => stopBody(typed(fields), STOP).lacking.join(" ");
  assert.match(lacking({ top_m: "0.4" }), /Top.*0.4 m/);
  assert.match(lacking({ verticals_m: "0.6 deep", head_m: "0.4" }), /Verticals/);
  assert.match(lacking({ corner_ul: "2.1" }), /give the mark's level/);
  assert.match(lacking({ length_m: "2.4" }), /width and mass/);
  assert.match(lacking({ horizontals_m: "2.4" }), /head difference/);
  assert.match(lacking({ mass_kg: "heavy" }), /not a number/);
});

/** As-built dimensions: repeats in mm, asked about where unlike the named. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { dimensionBody } from "../../../static/field/install/as_built.js";
import { slip } from "../../../static/field/typed/dimension_slip.js";

test("a dimension unlike its named value is asked about once", () => {
  const named = [{ key: "W", label: "Throat", named_m: 0.3048 }];
  const asked = (text, sure) => dimensionBody({ W: text }, named, "tape", sure);
  for (const text of ["0.305", "30.5", "3050", "12", "1"])
    assert.equal(asked(text).body, null, text);
  assert.deepEqual(asked("0.305").asked.answers, ["305", "0.305"]);
  assert.deepEqual(asked("12").asked.answers, ["304.8", "12"]);
  assert.deepEqual(asked("305 304.5").body.dimensions[0].measured_m, [0.305, 0.3045]);
  const kept = asked("250", ["250"]);
  assert.deepEqual(kept.body.as_typed, ["250"]);
  assert.equal(asked("250").asked.answers.length, 1);
  assert.deepEqual(
    [slip(0.305, 304.8), slip(305, 304.8), slip(250, 304.8)].map((v) => v && Math.round(v)),
    [305, 305, null],
  );
});

test("a dimension of two meanings is settled by its named value, or asked with it", () => {
  const named = [{ key: "b", label: "Throat", named_m: 1.2192 }];
  const read = (text) => dimensionBody({ b: text }, named, "tape");
  for (const text of ["1,251", "1.251"])
    assert.deepEqual(read(text).body.dimensions[0].measured_m, [1.251]);
  assert.deepEqual(read("2,502").asked.answers, ["2.5020", "2502"]);
  assert.deepEqual(read("12,190").asked.answers, ["1219", "12.19", "12190"]);
  assert.match(read("12,190").problem, /1219.2 mm/);
});

test("dimensions: repeats in mm become metres, nonsense is named", () => {
  const asked = [
    { key: "W", label: "Neck width" },
    { key: "L", label: "Length" },
  ];
  assert.deepEqual(dimensionBody({ W: "203 203,4" }, asked, "tape").body.dimensions, [
    { key: "W", label: "Neck width", measured_m: [0.203, 0.2034] },
  ]);
  assert.match(dimensionBody({ W: "wide" }, asked, "").problem, /Neck width/);
  assert.match(dimensionBody({}, asked, "").problem, /at least one/);
});

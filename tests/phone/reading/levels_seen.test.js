import assert from "node:assert/strict";
import test from "node:test";
import { levelsSeen } from "../../../static/field/reading/levels_seen.js";

const HERE = { crest_m: 0.0005, high_m: 0.5 };

test("heights are to scale: a water halfway to the highest stands halfway up from the crest", () => {
  const seen = levelsSeen({ crest_m: 0, high_m: 0.4, staff_m: 0.2, tail_m: 0.1 });
  const top = seen.marks.find(({ words }) => words === "400").y;
  assert.ok(Math.abs(seen.water - (seen.crest + top) / 2) < 1e-9);
  assert.ok(Math.abs(seen.tail - (seen.crest * 3 + top) / 4) < 1e-9);
});

test("what was not read is not drawn", () => {
  const seen = levelsSeen(HERE);
  assert.deepEqual([seen.water, seen.tail], [null, null]);
  assert.ok(seen.crest > 0 && seen.crest < seen.floor);
});

test("a water above the usual and one far under the crest stay in the picture", () => {
  for (const staff_m of [1.2, -0.4]) {
    const seen = levelsSeen({ ...HERE, staff_m });
    assert.ok(seen.water >= 0 && seen.water <= seen.height, String(staff_m));
  }
});

test("the numbers are those of the staff, few enough to be read", () => {
  const words = (unit) =>
    levelsSeen({ ...HERE, unit })
      .marks.map((mark) => mark.words)
      .filter(Boolean);
  assert.deepEqual(words("mm"), ["-100", "0", "100", "200", "300", "400", "500"]);
  assert.deepEqual(words("cm").slice(1, 3), ["0", "10"]);
  assert.deepEqual(words("m").slice(1, 3), ["0", "0.1"]);
});

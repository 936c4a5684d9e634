/** The field of a refusal in words. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { faultPath, fieldWords, refusalWhy } from "../../../static/field/base/fault_words.js";

test("the field of a refusal as a path and in words", () => {
  assert.deepEqual(faultPath("body.observed.volumetric.fills.4.time_s.constrained-str"), [
    "fills",
    "4",
    "time_s",
  ]);
  assert.deepEqual(faultPath("body.rows.1.is"), ["rows", "1", "is"]);
  assert.equal(fieldWords("body.heads.1.staff_m"), "Heads 2 staff (m)");
  assert.equal(fieldWords("site_id"), "Site");
  assert.equal(fieldWords(""), "This entry");
  const why = (field, value) => refusalWhy({ field, value, rule: "no" });
  assert.equal(why("body.sensor.before_m", "x"), "\u201cx\u201d in m: no.");
  assert.equal(why("body.measured_m.0", "x"), "\u201cx\u201d in m: no.");
  assert.equal(why("body.m", "x"), "\u201cx\u201d no.");
  assert.equal(why("body.m", ""), "no.");
  assert.ok(why("body.m", "9".repeat(200)).length < 50);
});

test("a refusal speaks in the unit of its box and in the time of the site", () => {
  const rule = "Input should be less than or equal to 10";
  const staff = { field: "body.staff_m.1", value: "99.0", rule };
  assert.equal(
    refusalWhy(staff, { boxUnit: "mm" }),
    "\u201c99000\u201d mm (99 m): Input should be less than or equal to 10000 mm.",
  );
  assert.equal(
    refusalWhy(staff, { boxUnit: "m" }),
    "\u201c99.0\u201d in m: Input should be less than or equal to 10.",
  );
  const ahead = { field: "observed_at", value: "2026-11-26T22:40:00Z", rule: "lies ahead" };
  assert.equal(
    refusalWhy(ahead, { utcOffsetMin: 780 }),
    "\u201c2026-11-27 11:40\u201d site time: lies ahead.",
  );
  const none = { field: "body.clock", value: "", rule: "there is no such entry of 2026" };
  assert.equal(refusalWhy(none, { boxUnit: "mm" }), "there is no such entry of 2026.");
  const words = { field: "body.staff_m.0", value: "two", rule: "should be a number" };
  assert.equal(refusalWhy(words, { boxUnit: "mm" }), "\u201ctwo\u201d in m: should be a number.");
});

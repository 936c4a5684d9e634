/** The field of a refusal in words. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  faultPath,
  fieldWords,
  shownValue,
  unitOf,
} from "../../../static/field/base/fault_words.js";

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
  assert.equal(unitOf(["sensor", "before_m"]), "m");
  assert.equal(unitOf(["measured_m", "0"]), "m");
  assert.equal(unitOf(["m"]), "");
  assert.equal(shownValue(""), "");
  assert.ok(shownValue("9".repeat(200)).length < 50);
});

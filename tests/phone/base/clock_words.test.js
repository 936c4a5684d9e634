/** The error of a clock in words. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { clockWords } from "../../../static/field/base/clock_words.js";

test("a clock that is a day and more off is wrong, not slow", () => {
  assert.equal(clockWords(95), "1 min 35 s fast");
  assert.equal(clockWords(-3660), "1 h 1 min slow");
  assert.match(clockWords(-1795669441), /^wrong: 56 years/);
});

/** Repeats of one staff reading (statistics by hand). */
import assert from "node:assert/strict";
import { test } from "node:test";
import { repeats } from "../../../static/field/sums/repeats.js";

test("mean, spread and standard error of repeats (statistics by hand: s = 1, s/sqrt 3)", () => {
  const sums = repeats([0.25, 0.251, 0.252]);
  assert.ok(Math.abs(sums.mean - 0.251) < 1e-12);
  assert.ok(Math.abs(sums.spread - 0.002) < 1e-12);
  assert.ok(Math.abs(sums.standardError - 0.001 / Math.sqrt(3)) < 1e-12);
  assert.equal(repeats([]), null);
  assert.equal(repeats([0.2]).standardError, null);
});

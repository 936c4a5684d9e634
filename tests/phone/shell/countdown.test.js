import assert from "node:assert/strict";
import test from "node:test";
import { said } from "../../../static/field/shell/countdown.js";

test("what is said of the time left, and of the time since", () => {
  assert.equal(said(120_000), "Read again in 2:00");
  assert.equal(said(61_200), "Read again in 1:02");
  assert.equal(said(400), "Read again in 0:01");
  assert.equal(said(0), "Read again now");
  assert.equal(said(-59_000), "Read again now");
  assert.equal(said(-60_000), "Read again now: due 1 minute ago");
  assert.equal(said(-185_000), "Read again now: due 3 minutes ago");
});

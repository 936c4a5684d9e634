/** A sight against the other sights of the book. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { readSight } from "../../../static/field/levels/book.js";

test("a sight is held against the other sights of the book", () => {
  const sights = ["1.342", "1,685"].map((text) => ({ text }));
  assert.equal(readSight("15.32", "m", { sights }).text, "1.532");
  assert.equal(readSight("15.32", "m").text, "1.532");
  assert.deepEqual(readSight("0.031", "m", { sights }), { value: 0.031 });
  assert.deepEqual(readSight("7.5", "m", { sights, kept: ["7.5"] }), { value: 7.5 });
});

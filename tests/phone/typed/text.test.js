/** The time of a record that is put right or corrected. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { observedAt } from "../../../static/field/typed/text.js";

const NOW = "2026-11-25T10:00:00.000Z";
const entry = { observed_at: "1989-01-01T00:00:00Z" };

test("put right, a record keeps its time unless the time is what was wrong", () => {
  const record = (field) => ({ entry, refusal: { field } });
  assert.equal(observedAt({ record: record("body.note") }, NOW), "1989-01-01T00:00:00Z");
  assert.equal(observedAt({ record: record("observed_at") }, NOW), NOW);
  assert.equal(observedAt({ record: null }, NOW), NOW);
});

test("a correction of a saved record is about the time of the first", () => {
  assert.equal(observedAt({ record: { entry } }, NOW), "1989-01-01T00:00:00Z");
});

/** The time of a record that is put right. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { observedAt } from "../../../static/field/typed/text.js";

const NOW = "2026-11-25T10:00:00.000Z";

test("put right, a record keeps its time unless the time is what was wrong", () => {
  const record = (field) => ({
    entry: { observed_at: "1989-01-01T00:00:00Z" },
    refusal: { field },
  });
  assert.equal(observedAt({ record: record("body.note") }, NOW), "1989-01-01T00:00:00Z");
  assert.equal(observedAt({ record: record("observed_at") }, NOW), NOW);
  assert.equal(observedAt({ record: null }, NOW), NOW);
});

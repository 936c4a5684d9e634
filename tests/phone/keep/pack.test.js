/** The dated rating in force. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { inForce } from "../../../static/field/keep/pack.js";

test("the rating in force is the latest begun, never a later one", () => {
  const dated = [
    { id: 1, valid_from: "2026-01-01T00:00:00Z" },
    { id: 2, valid_from: "2026-06-01T00:00:00Z" },
  ];
  assert.equal(inForce(dated, "2026-05-31T23:59:59Z").id, 1);
  assert.equal(inForce(dated, "2026-06-01T00:00:00Z").id, 2);
  assert.equal(inForce(dated, "2025-01-01T00:00:00Z"), null);
});

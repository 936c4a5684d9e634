/** Moving water speaks up. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { wadingWords } from "../../../../static/field/gauging/methods/velocity.js";

test("depth times speed near 1 speaks up (common practice)", () => {
  const section = (depth, speed) => ({
    depth_m: [0, depth, 0],
    velocity_ms: [0, speed, 0],
    distance_m: [0, 1, 2],
  });
  assert.match(wadingWords(section(0.6, 1.7)), /at or over the limit of 1/);
  assert.match(wadingWords(section(0.6, 1.3)), /near the limit of 1/);
  assert.match(wadingWords(section(0.9, 0.2)), /thigh/);
  assert.equal(wadingWords(section(0.3, 0.5)), null);
});

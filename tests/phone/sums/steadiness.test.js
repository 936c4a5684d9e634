/** The phone's steadiness against the server's answers; one file of vectors serves both. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import {
  classify,
  STUDENT_T_95,
  STUDENT_T_95_LARGE,
} from "../../../static/field/sums/steadiness.js";

const vectors = JSON.parse(
  readFileSync(new URL("../../tables/steadiness_vectors.json", import.meta.url)),
);

test("the points of Student's t are the server's", () => {
  assert.deepEqual(STUDENT_T_95, vectors.student_t_95);
  assert.equal(STUDENT_T_95_LARGE, vectors.student_t_95_large);
});

for (const { name, input, expected } of vectors.cases) {
  test(`steadiness: ${name}`, () => {
    const { times_s, heads_m, ...known } = input;
    const got = classify(times_s, heads_m, known);
    for (const [key, wanted] of Object.entries(expected)) {
      if (typeof wanted !== "number") assert.equal(got[key], wanted, key);
      else
        assert.ok(
          Math.abs(got[key] - wanted) <= 1e-9 * Math.max(1, Math.abs(wanted)),
          `${key}: ${got[key]} is not ${wanted}`,
        );
    }
  });
}

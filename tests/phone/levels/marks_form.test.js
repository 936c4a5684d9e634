/** A benchmark as typed. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { markEntry, markProblem } from "../../../static/field/levels/marks_form.js";

const place = {
  site: { id: 3, utc_offset_min: 720 },
  structure: { id: 4 },
  visitId: null,
  personId: 1,
  now: "2026-11-25T00:00:00.000Z",
};

test("a benchmark has a name and a level that is a number", () => {
  const values = {
    name: " BM1 ",
    mark: "bolt",
    stability: "firm",
    rl_text: "100,25",
    datum: "assumed",
    place: "abutment",
  };
  assert.equal(markProblem(values), "");
  assert.equal(markEntry(values, { ...place, id: "x" }).body.rl_m, 100.25);
  assert.match(markProblem({ ...values, name: " " }), /name/);
  assert.match(markProblem({ ...values, rl_text: "high" }), /not a level/);
});

/** The book as it opens, and a sight against its other sights. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { lastFound, openOn, readSight } from "../../../static/field/levels/book.js";
import { emptyRun, isHalfFilled } from "../../../static/field/levels/entry.js";

test("a sight is held against the other sights of the book", () => {
  const sights = ["1.342", "1,685"].map((text) => ({ text }));
  assert.equal(readSight("15.32", "m", { sights }).text, "1.532");
  assert.equal(readSight("15.32", "m").text, "1.532");
  assert.deepEqual(readSight("0.031", "m", { sights }), { value: 0.031 });
  assert.deepEqual(readSight("7.5", "m", { sights, kept: ["7.5"] }), { value: 7.5 });
});

test("a new book opens on a firm mark of known level, and says what the last run found there", () => {
  const mark = (name, more = {}) => ({ name, rl_m: 100, stability: "firm", moved: [], ...more });
  const run = (id, marks_m, more = {}) => ({
    structure_id: id,
    marks_m,
    crest_rl_m: 98.75,
    within_limit: true,
    observed_at: "2026-11-01",
    ...more,
  });
  const place = {
    structure: { id: 7 },
    survey: {
      benchmarks: [
        mark("BM1", { moved: ["moved 12 mm"] }),
        mark("BM2"),
        mark("BM3", { rl_m: 101.5 }),
      ],
      runs: [run(7, { BM3: 101.4996 }), run(8, { BM2: 100 })],
    },
  };
  const opened = openOn(emptyRun("r"), place);
  assert.deepEqual([opened.next.point, opened.start_text], ["BM3", "101.5000"]);
  assert.equal(isHalfFilled(opened), false, "nobody typed anything");
  assert.equal(isHalfFilled({ ...opened, start_text: "" }), true);
  assert.equal(
    lastFound(place, "BM3", (at) => at),
    "The run of 2026-11-01 found it at 101.4996 m, the crest at 98.7500 m.",
  );
  assert.equal(
    lastFound(place, "BM2", (at) => at),
    "",
    "the last run here did not go there",
  );
  const bare = { structure: null, survey: { benchmarks: [mark("BM1", { rl_m: null })], runs: [] } };
  assert.deepEqual(openOn(emptyRun("r"), bare), emptyRun("r"));
});

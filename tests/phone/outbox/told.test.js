/** A row of the outbox shows what the sheet found, and one road to put it right. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { KINDS } from "../../../static/field/base/kinds.js";
import { recordTitle, resultWords, wayBack } from "../../../static/field/outbox/told.js";

const RUN = {
  misclosure_mm: 4.04,
  limit_mm: 5.28,
  within_limit: true,
  crest_rl_m: 99.9,
  zero_rl_m: 99.895,
};
const words = (kind, body) => resultWords({ kind, body });

test("a level run tells misclosure, crest, zero, and why it was accepted over the limit", () => {
  assert.equal(
    words("level_run", { preview: RUN, set_zero: null }),
    "misclosure 4.0 mm, within the limit 5.3 mm \u00b7 crest 99.9000 m",
  );
  const over = { ...RUN, misclosure_mm: 9, within_limit: false };
  assert.equal(
    words("level_run", { preview: over, set_zero: { from: "x", accepted_because: "last light" } }),
    "misclosure 9.0 mm, OVER the limit 5.3 mm \u00b7 crest 99.9000 m" +
      " \u00b7 sets the zero, \u22125.0 mm from the crest \u00b7 accepted because: last light",
  );
  const open = { ...RUN, misclosure_mm: null, within_limit: null };
  assert.match(words("level_run", { preview: open, set_zero: null }), /^misclosure not known/);
});

test("stop, opening and as built tell their own result; another release's tell none", () => {
  assert.equal(words("install_stop", { preview: { word: "unknown" } }), "not known");
  assert.equal(
    words("opening", {
      heads: [],
      fit_from: null,
      preview: { steady: "steady", open_points: "x" },
    }),
    "head steady \u00b7 not yet fit to record \u00b7 open: x",
  );
  const built = { dimensions: [{ key: "b", label: "Throat width", measured_m: [0.3048] }] };
  assert.equal(words("dimension_check", built), "Throat width 304.8 mm");
  assert.equal(words("dimension_check", {}), "");
  assert.equal(words("ice_survey", {}), "");
});

test("every kind has one road: refused is put right, saved is corrected, replaced is neither", () => {
  for (const kind of Object.keys(KINDS).filter((one) => one !== "plan")) {
    const way = (state) => wayBack({ id: "a", state, entry: { kind } });
    assert.match(way("refused").href, /\?fix=a$/, kind);
    assert.match(way("stored").href, /\?correct=a$/, kind);
    assert.match(way("waiting").href, /\?correct=a$/, kind);
    assert.equal(way("replaced"), null);
  }
  assert.equal(wayBack({ id: "a", state: "stored", entry: { kind: "ice_survey" } }), null);
  assert.equal(wayBack({ id: "a", state: "stored", entry: { kind: "plan" } }), null, "asked once");
  const entry = { kind: "head_reading", corrects: "b", body: { occasion: "as_found" } };
  assert.equal(recordTitle(entry), "Correction: Head reading, as found");
});

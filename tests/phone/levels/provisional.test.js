/** The zero of a level run on this phone rates its readings, and goes where the run goes. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { inForce } from "../../../static/field/keep/pack.js";
import { withZerosHere } from "../../../static/field/levels/provisional.js";

const FROM = "2026-11-25T21:40:00.000Z";
const PACK = { made_at: "2026-11-25T20:00:00Z", person: { id: 1, role: "crew" }, sites: [] };
const OFFICE = { id: 5, valid_from: "2026-01-01T00:00:00Z", offset_m: -0.01 };
const STRUCTURE = { id: 7, gauge_zeros: [OFFICE], ratings: [] };

const run = (
  id,
  { state = "waiting", corrects = null, body = {}, kind = "level_run", ...more } = {},
) => ({
  id,
  state,
  notes: [],
  ...more,
  entry: {
    id,
    kind,
    site_id: 3,
    structure_id: 7,
    by: 1,
    corrects,
    observed_at: "2026-11-25T21:42:00.000Z",
    utc_offset_min: 780,
    body: {
      set_zero: { from: FROM, reason: "" },
      tail_mark_m: null,
      preview: { crest_rl_m: 98.75, zero_rl_m: 98.747 },
      ...body,
    },
  },
});
const zeroAfter = (...records) =>
  inForce(withZerosHere(STRUCTURE, PACK, records).gauge_zeros, "2026-11-25T22:00:00Z");

test("a zero just levelled counts, said to be provisional, from its time on", () => {
  const zero = zeroAfter(run("a"));
  assert.ok(Math.abs(zero.offset_m - -0.003) < 1e-9);
  assert.equal(
    zero.provisional,
    "provisional, by the zero levelled here at 2026-11-26 10:42, not yet at the office",
  );
  const { gauge_zeros } = withZerosHere(STRUCTURE, PACK, [run("a")]);
  assert.equal(inForce(gauge_zeros, "2026-11-25T21:39:00Z"), OFFICE);
});

test("it follows its run: corrected, withdrawn, refused, without the wish", () => {
  const better = run("b", {
    corrects: "a",
    body: { preview: { crest_rl_m: 98.75, zero_rl_m: 98.75 } },
  });
  assert.equal(zeroAfter(run("a"), better).offset_m, 0);
  assert.equal(zeroAfter(run("a"), run("b", { corrects: "a", body: { set_zero: null } })), OFFICE);
  const withdrawal = run("c", { kind: "withdrawal", corrects: "a" });
  assert.equal(zeroAfter(run("a"), withdrawal), OFFICE);
  assert.equal(zeroAfter(run("a", { state: "refused" })), OFFICE);
  assert.equal(zeroAfter(run("a", { state: "replaced" })), OFFICE);
});

test("stored, it counts until a newer pack says what stands", () => {
  const stored = { state: "stored", settled_at: "2026-11-25T21:50:00Z" };
  assert.match(zeroAfter(run("a", stored)).provisional, /at the office, not yet heard back/);
  assert.equal(zeroAfter(run("a", { ...stored, settled_at: "2026-11-25T19:00:00Z" })), OFFICE);
  assert.equal(zeroAfter(run("a", { ...stored, notes: ["gauge zero not set: why"] })), OFFICE);
});

test("a run that cannot say its zero, or the tail's, gives none", () => {
  assert.equal(zeroAfter(run("a", { body: { preview: null } })), OFFICE);
  assert.equal(zeroAfter(run("a", { body: { tail_mark_m: 0.2 } })), OFFICE);
  const tail = { crest_rl_m: 98.75, zero_rl_m: 98.747, tail_zero_rl_m: 98.65 };
  const zero = zeroAfter(run("a", { body: { tail_mark_m: 0.2, preview: tail } }));
  assert.ok(Math.abs(zero.tail_offset_m - -0.1) < 1e-9);
});

/** An opening from typed figures to its entry. Limits: common practice. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as opening from "../../../static/field/opening/entry.js";
import { rateHead, timedHead, usualOpening } from "../../../static/field/opening/entry.js";
import { askLength } from "../../../static/field/typed/plausible.js";
import { powerTable } from "../power_table.js";
import { casesOf } from "../vectors.js";

const STRUCTURE = { gauge_zeros: [], ratings: [], head_uncertainty_m: 0.003, pond_area_m2: null };

const head = (minute, staff_m) => ({
  at: `2026-11-25T00:${String(minute).padStart(2, "0")}:00.000Z`,
  staff_m,
  tail_staff_m: null,
});

const opened = (changes) => ({ ...opening.emptyOpening("id-2", "mm"), ...changes });

const place = {
  site: { id: 3, utc_offset_min: 720 },
  structure: { id: 4 },
  visitId: null,
  personId: 1,
  now: "2026-11-25T00:00:00.000Z",
};

const table = powerTable({ head_max_m: 0.76, modular_limit: 0.7 });

const structure = {
  id: 3,
  ratings: [{ id: 1, valid_from: "2020-01-01T00:00:00Z", table }],
  head_uncertainty_m: 0.003,
  pond_area_m2: null,
  gauge_zeros: [{ valid_from: "2026-06-01T00:00:00Z", offset_m: -0.001, tail_offset_m: null }],
  usual_head_m: [0.09, 0.5],
};

const NOW = "2026-11-25T10:00:00.000Z";

const site = { id: 1, utc_offset_min: 720, recent: [{ structure_id: 3, head_m: 0.25 }] };

test("steady is judged from the last readings since the gate moved", () => {
  const gate = [{ at: "2026-11-25T00:00:00.000Z", opening: "2 turns" }];
  const filling = [head(1, 0.1), head(3, 0.15), head(5, 0.18)];
  assert.equal(opening.steadyNow(opened({ gate, heads: filling }), STRUCTURE).word, "settling");
  const settled = [...filling, ...[20, 22, 24, 26, 28].map((minute) => head(minute, 0.2))];
  assert.equal(opening.steadyNow(opened({ gate, heads: settled }), STRUCTURE).word, "steady");
  const moved = [...gate, { at: "2026-11-25T00:30:00.000Z", opening: "3 turns" }];
  assert.equal(
    opening.steadyNow(opened({ gate: moved, heads: settled }), STRUCTURE).word,
    "unknown",
  );
});

test("what is missing before recording is listed, nothing is hidden", () => {
  const zero = { offset_m: -0.0005 };
  const open = opening
    .openPoints(
      opened({ seeps: { toe: "muddy" }, sensor_staff: "200", sensor_after: "205" }),
      STRUCTURE,
      zero,
      null,
      720,
    )
    .join("\n");
  for (const words of [
    /no rating/,
    /not shown to be steady/,
    /seeps not looked at: bank/,
    /muddy seep: toe/,
    /sensor differs from the staff by 5.5 mm/,
    /clock not set/,
    /no check gauging/,
  ])
    assert.match(open, words);
});

test("clock errors to the second, on the site's clock", () => {
  const values = opened({
    clock_right: "2026-11-25T00:00:00.000Z",
    clock_before: "2026-11-25T12:01:30",
    clock_after: "2026-11-25T12:00:00",
  });
  assert.deepEqual(opening.clockErrors(values, 720), { before_s: 90, after_s: 0 });
  assert.deepEqual(opening.clockErrors(opened({}), 720), { before_s: null, after_s: null });
});

test("an opening with a loose figure is not saved; a whole one is", () => {
  assert.match(opening.problems(opened({ staff_text: "200" }))[0], /not taken/);
  assert.match(opening.problems(opened({ sensor_staff: "0.2" }))[0], /unit/);
  assert.match(opening.problems(opened({ clock_after: "2026-11-25T12:00:00" }))[0], /Right time/);
  assert.match(opening.problems(opened({}))[0], /Record something/);
  const values = opened({
    heads: [head(1, 0.2)],
    sensor_staff: "200",
    sensor_after: "199,5",
    fit: true,
    fit_from: "2026-11-25T13:00",
    fit_words: "toe seeps",
  });
  assert.deepEqual(opening.problems(values), []);
  const { body } = opening.openingEntry(values, { steady: { word: "steady" }, open: [] }, place);
  assert.equal(body.sensor.after_m, 0.1995);
  assert.equal(body.fit_from, "2026-11-25T01:00:00.000Z");
});

test("a station fit to record from the year to come is not saved", () => {
  const values = opened({
    heads: [head(1, 0.2)],
    fit: true,
    fit_from: "2027-11-25T13:00",
    fit_words: "x",
  });
  const said = opening.problems(values, { utcOffsetMin: 720, now: "2026-11-25T01:05:00.000Z" });
  assert.match(said[0], /Fit to record from lies ahead.*year/);
  assert.deepEqual(
    opening.problems(
      { ...values, fit_from: "2026-11-25T13:09" },
      { utcOffsetMin: 720, now: "2026-11-25T01:05:00.000Z" },
    ),
    [],
  );
});

test("heads of an opening: the same words as the office's, far under the crest too", () => {
  for (const { name, args, result } of casesOf("opening_vectors.json")) {
    const { head_m, dry } = args;
    const head = { at: NOW, staff_m: head_m + 0.001, tail_staff_m: null, ...(dry ? { dry } : {}) };
    assert.equal(rateHead(head, structure).flow.flow, result, name);
  }
});

test("a rising head is not asked about, a slip of it is, and the answer goes with the head", () => {
  const heads = [{ at: NOW, staff_m: 0.19 }];
  const ask = (text, kept = [], taken = heads) =>
    askLength(text, "mm", usualOpening(structure, site, taken, NOW), kept);
  assert.deepEqual(ask("20", [], []), { metres: 0.02 });
  assert.equal(ask("20.5").text, "205");
  assert.equal(ask("2050").offers[0].text, "205");
  assert.ok(ask("-300").dry);
  const taken = (text, dry) =>
    timedHead({ staff: ask(text, [text]), tail: null, text, dry, at: NOW });
  assert.deepEqual(taken("-300", ["-300"]), {
    at: NOW,
    staff_m: -0.3,
    tail_staff_m: null,
    as_typed: "-300",
    dry: true,
  });
  assert.deepEqual(taken("20.5", []), {
    at: NOW,
    staff_m: 0.0205,
    tail_staff_m: null,
    as_typed: "20.5",
  });
  assert.deepEqual(taken("205", []), { at: NOW, staff_m: 0.205, tail_staff_m: null });
});

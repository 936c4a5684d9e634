/** Is a staff reading plausible here? Asked once, answered by a tap, and what each answer leaves. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { readSight } from "../../static/field/levels/book.js";
import { rateHead, timedHead, usualOpening } from "../../static/field/opening/entry.js";
import { assess } from "../../static/field/reading/assess.js";
import { emptyReading } from "../../static/field/reading/empty.js";
import { readForm, readingEntry } from "../../static/field/reading/entry.js";
import { askLength, readLength, usualStaff } from "../../static/field/typed/plausible.js";

const heads_m = Array.from({ length: 64 }, (_, i) => 0.01 * (0.76 / 0.01) ** (i / 63));
const table = {
  heads_m,
  discharge_m3s: heads_m.map((h) => 0.69 * h ** 1.522),
  device_pct: heads_m.map(() => 3),
  exponent: heads_m.map(() => 1.522),
  modular_limit: heads_m.map(() => 0.7),
  drowned: null,
  head_min_m: 0.03,
  head_max_m: 0.76,
  cease_to_flow_m: 0,
  can_drown: true,
  warn_submergence: 0.9,
  max_submergence: 0.95,
  hash: "h",
};
const structure = {
  id: 3,
  ratings: [{ id: 1, valid_from: "2020-01-01T00:00:00Z", table }],
  head_uncertainty_m: 0.003,
  pond_area_m2: null,
  gauge_zeros: [{ valid_from: "2026-06-01T00:00:00Z", offset_m: -0.001, tail_offset_m: null }],
  usual_head_m: [0.09, 0.5],
};
const site = { id: 1, utc_offset_min: 720, recent: [{ structure_id: 3, head_m: 0.25 }] };
const NOW = "2026-11-25T10:00:00.000Z";
const usual = usualStaff(structure, site, NOW);

test("the usual range is the record's, over the staff's own zero", () => {
  assert.ok(Math.abs(usual.low - 0.091) < 1e-9 && Math.abs(usual.last - 0.251) < 1e-9);
  assert.ok(usualStaff({ ...structure, usual_head_m: null }, { recent: [] }, NOW).high > 1.1);
});

test("a slip of ten, of the unit, and a figure that cannot be", () => {
  const asked = (text) => readLength(text, "mm", usual);
  assert.deepEqual(asked("251"), { metres: 0.251 });
  assert.deepEqual(
    [asked("25.1").question, asked("25.1").text, asked("25.1").must],
    ["251 mm?", "251", false],
  );
  assert.equal(asked("25.1").typed[0].words, "25.1 mm, as typed");
  assert.equal(asked("2511").offers[0].text, "251.1");
  assert.equal(asked("0.251").question, "0.251 m?");
  assert.ok(asked("1.251").question);
  assert.ok(asked("-9000").question);
  assert.ok(asked("-300").dry);
  assert.deepEqual(asked("0"), { metres: 0 });
  assert.ok(asked("-90000").problem);
  assert.deepEqual(readLength("0.251", "m", usual), { metres: 0.251 });
  assert.equal(readLength("2,511", "m", usual).offers[0].text, "0.2511");
});

test("inside the range a slip of ten is held against the last reading", () => {
  const wide = { ...usual, low: 0.01 };
  assert.equal(readLength("25.1", "mm", wide).question, "251 mm?");
  assert.deepEqual(readLength("62", "mm", wide), { metres: 0.062 });
});

const form = (text, more = {}) => ({
  ...emptyReading("i", "mm", "during"),
  heads: [{ text, at: NOW }],
  ...more,
});
const read = (values) => readForm(values, { usual, utcOffsetMin: 720, now: NOW });

test("an open question stands in the way of Save, an answer is kept with the entry", () => {
  assert.match(read(form("25.1")).problems[0], /251 mm/);
  const answered = read(form("25.1", { kept: ["25.1"] }));
  assert.deepEqual(answered.problems, []);
  assert.deepEqual(answered.reading.as_typed, ["25.1"]);
  assert.deepEqual(assess(answered.reading, structure).flow.flags, [
    "below range",
    "unusual head, confirmed as read",
  ]);
  const entry = readingEntry(form("25.1"), answered.reading, { site, structure, now: NOW }, null);
  assert.deepEqual(entry.body.as_typed, ["25.1"]);
  assert.ok(!("as_typed" in read(form("251")).reading));
});

test("far under the crest is no flow only when a person says dry", () => {
  const wet = read(form("-300", { kept: ["-300"] }));
  assert.equal(assess(wet.reading, structure).flow.flow, "not rated");
  assert.equal(assess(wet.reading, structure).flow.discharge_m3s, null);
  const dry = read(form("-300", { kept: ["-300"], dry: true }));
  assert.equal(dry.reading.dry, true);
  assert.equal(assess(dry.reading, structure).flow.discharge_m3s, 0);
  assert.ok(!("dry" in read(form("251", { dry: true })).reading));
});

test("a gate opened in the year to come is not saved", () => {
  assert.match(read(form("251", { gate: "2027-11-25T09:00" })).problems[0], /gate/);
});

test("a sight is held against the other sights of the book", () => {
  const sights = ["1.342", "1,685"].map((text) => ({ text }));
  assert.equal(readSight("15.32", "m", { sights }).text, "1.532");
  assert.equal(readSight("15.32", "m").text, "1.532");
  assert.deepEqual(readSight("0.031", "m", { sights }), { value: 0.031 });
  assert.deepEqual(readSight("7.5", "m", { sights, kept: ["7.5"] }), { value: 7.5 });
});

test("heads of an opening: the same words as the office's, far under the crest too", () => {
  const { cases } = JSON.parse(
    readFileSync(new URL("../tables/opening_words.json", import.meta.url)),
  );
  for (const { name, head_m, dry, flow } of cases) {
    const head = { at: NOW, staff_m: head_m + 0.001, tail_staff_m: null, ...(dry ? { dry } : {}) };
    assert.equal(rateHead(head, structure).flow.flow, flow, name);
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

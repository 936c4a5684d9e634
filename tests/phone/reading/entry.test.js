/** A reading from the form to its entry, and back for a correction. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { assess } from "../../../static/field/reading/assess.js";
import { valuesOf } from "../../../static/field/reading/correct.js";
import {
  emptyReading,
  inUnit,
  isHalfFilled,
  noteAnswer,
} from "../../../static/field/reading/empty.js";
import { readForm, readingEntry } from "../../../static/field/reading/entry.js";
import { usualStaff, usualTail } from "../../../static/field/typed/plausible.js";
import { toLocalBox } from "../../../static/shared/format.js";
import { powerTable } from "../power_table.js";

const context = {
  site: { id: 3, utc_offset_min: 720 },
  structure: { id: 5 },
  visitId: "v",
  personId: 1,
  now: "2026-11-25T09:20:00.000Z",
};

const filled = () => ({
  ...emptyReading("id-1", "m", "as_found"),
  heads: [
    { text: "0,251", at: "2026-11-25T09:15:00.000Z" },
    { text: "", at: null },
    { text: "0.252", at: "2026-11-25T09:16:00.000Z" },
  ],
  tail: "read",
  tail_text: "0.18",
  conditions: ["weed"],
  note: " slow ",
});

const open = { usual: 1, utcOffsetMin: 720, now: context.now };

const table = powerTable({ head_max_m: 0.76, modular_limit: 0.7 });

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

const staff = usualStaff(structure, site, NOW);
const usual = { ...staff, tail: usualTail(staff, structure, NOW) };

const form = (text, more = {}) => ({
  ...emptyReading("i", "mm", "during"),
  heads: [{ text, at: NOW }],
  ...more,
});

const read = (values) => readForm(values, { usual, utcOffsetMin: 720, now: NOW });

test("the entry holds what was seen, as typed and in metres, under the names that the server takes", () => {
  const values = filled();
  const { reading: seen, problems } = readForm(values, open);
  assert.deepEqual(problems, []);
  const entry = readingEntry(values, seen, context, null);
  assert.deepEqual(Object.keys(entry), [
    "id",
    "kind",
    "site_id",
    "structure_id",
    "visit_id",
    "observed_at",
    "utc_offset_min",
    "by",
    "saved_at",
    "corrects",
    "reason",
    "body",
  ]);
  assert.equal(entry.observed_at, "2026-11-25T09:16:00.000Z");
  assert.deepEqual(entry.body, {
    occasion: "as_found",
    staff_m: [0.251, 0.252],
    read_at: ["2026-11-25T09:15:00.000Z", "2026-11-25T09:16:00.000Z"],
    tailwater: { state: "read", staff_m: 0.18, text: "0.18" },
    gate_opened_at: null,
    conditions: ["weed"],
    sensor_head_m: null,
    entered: { unit: "m", text: ["0,251", "0.252"] },
    note: "slow",
    time_reason: null,
    preview: null,
  });
});

test("a changed time wants a reason, and drops the times of the boxes", () => {
  const values = { ...filled(), time: "2026-11-25T20:00" };
  const first = readForm(values, open);
  assert.deepEqual(first.problems, ["Say why the time is not now."]);
  assert.equal(first.reading.observed_at, "2026-11-25T08:00:00.000Z");
  assert.equal(first.reading.read_at, null);
  assert.deepEqual(readForm({ ...values, time_reason: "from the notebook" }, open).problems, []);
  assert.deepEqual(
    readForm({ ...values, time: "2026-11-27T20:00", time_reason: "x" }, open).problems,
    ["The time lies ahead. Check its day and year, and this phone's clock."],
  );
});

test("an empty form is not half filled and cannot be saved", () => {
  const values = emptyReading("i", "m", "during");
  assert.equal(isHalfFilled(values), false);
  assert.deepEqual(readForm(values, open).problems, ["Type the staff reading."]);
  assert.equal(isHalfFilled(filled()), true);
});

test("a correction starts from what was saved and keeps its time", () => {
  const values = filled();
  const entry = readingEntry(values, readForm(values, open).reading, context, null);
  const again = valuesOf(entry, "id-2", (iso) => toLocalBox(iso, 720));
  const later = { ...open, now: "2026-11-26T09:00:00.000Z" };
  const { reading: seen, problems } = readForm(again, later);
  assert.deepEqual(problems, []);
  const corrected = readingEntry(
    { ...again, reason: "misread" },
    seen,
    { ...context, corrects: "id-1", now: later.now },
    null,
  );
  assert.equal(corrected.id, "id-2");
  assert.equal(corrected.corrects, "id-1");
  assert.equal(corrected.reason, "misread");
  assert.equal(corrected.observed_at, entry.observed_at);
  assert.deepEqual(corrected.body, entry.body);
});

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

test("the logger's head holds the limits of the office, in every unit", () => {
  const said = (text, unit) => {
    const { reading, problems } = read(form("251", { unit, sensor_text: text }));
    return [reading.sensor_head_m, problems.some((one) => one.startsWith("Logger"))];
  };
  assert.deepEqual(said("249", "mm"), [0.249, false]);
  assert.deepEqual(said("24.9", "cm"), [0.249, false]);
  assert.deepEqual(said("0.249", "m"), [0.249, false]);
  assert.deepEqual(said("-2", "mm"), [-0.002, false]);
  for (const [text, unit] of [
    ["9000", "cm"],
    ["90000", "mm"],
    ["-90000", "mm"],
    ["90", "m"],
    ["wet", "mm"],
  ])
    assert.deepEqual(said(text, unit), [null, true], `${text} ${unit}`);
});

test("what the office would refuse is told before it is saved", () => {
  assert.match(read(form("251", { gate: "0026-11-25T09:00" })).problems[0], /gate.*1990/);
  const long_ago = { time: "1926-11-25T09:00", time_reason: "from the notebook" };
  assert.match(read(form("251", long_ago)).problems[0], /time lies before 1990/);
});

test("a low tailwater is as usual as a high one is not", () => {
  const tail = { tail: "read", tail_text: "20" };
  assert.deepEqual(read(form("251", tail)).problems, []);
  assert.match(read(form("251", { ...tail, tail_text: "2150" })).problems[0], /215 mm/);
});

test("an answer holds for the figure in its unit: another unit is another figure", () => {
  const values = form("2.5", { kept: ["2.5"] });
  assert.deepEqual(read(values).reading.as_typed, ["2.5"]);
  inUnit(values, "m");
  assert.equal(values.unit, "m");
  assert.ok(read(values).problems[0]);
});

test("what was asked goes with the entry, also where another figure was meant", () => {
  const values = form("25.1");
  noteAnswer(values, "staff", "25.1", "251");
  values.heads[0].text = "251";
  const { reading } = read(values);
  const asked = [{ figure: "staff", typed: "25.1", unit: "mm", answer: "251" }];
  assert.deepEqual(reading.asked, asked);
  const entry = readingEntry(values, reading, { site, structure, now: NOW }, null);
  assert.deepEqual(entry.body.asked, asked);
  assert.deepEqual(valuesOf(entry, "i2", String).answers, asked);
  for (let i = 0; i < 60; i += 1) noteAnswer(values, "tail", String(i), "as typed");
  assert.equal(values.answers.length, 40);
});

test("a figure whose question nobody answered is saved as typed and says so, and is asked again", () => {
  const values = form("25.1");
  const slip = { utcOffsetMin: 720, now: NOW, usual: { low: 0.1, high: 0.6, last: 0.25 } };
  assert.match(readForm(values, slip).problems[0], /Answer/);
  const saved = readForm(values, { ...slip, saving: true });
  assert.deepEqual(saved.problems, []);
  assert.deepEqual(saved.reading.staff_m, [0.0251]);
  const said = { figure: "staff", typed: "25.1", unit: "mm", answer: "not answered" };
  assert.deepEqual(saved.reading.asked, [said]);
  assert.equal(saved.reading.as_typed, undefined);
  const entry = readingEntry(values, saved.reading, context, null);
  const back = valuesOf(entry, "another", () => "");
  assert.deepEqual([back.kept, back.answers], [[], []]);
  assert.ok(readForm(back, slip).heads[0].question);
  const two = { ...form("1,251"), unit: "cm" }; // 1.251 cm or 1251 cm
  assert.match(
    readForm(two, { ...slip, saving: true }).problems[0] ?? "",
    /Answer/,
    "of two meanings none is chosen",
  );
});

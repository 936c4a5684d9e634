/** What is typed, understood: numbers, units, sums, times, entries.  */
import assert from "node:assert/strict";
import { test } from "node:test";
import { distanceM, order } from "../../static/field/base/nearest.js";
import { makeUuid7 } from "../../static/field/base/uuid7.js";
import { inForce } from "../../static/field/keep/pack.js";
import { assess, previewBody } from "../../static/field/reading/assess.js";
import { valuesOf } from "../../static/field/reading/correct.js";
import { emptyReading, isHalfFilled } from "../../static/field/reading/empty.js";
import { readForm, readingEntry } from "../../static/field/reading/entry.js";
import { repeats } from "../../static/field/sums/repeats.js";
import { readLength } from "../../static/field/typed/plausible.js";
import { emptyVisit, visitEntry } from "../../static/field/visit/entry.js";
import {
  discharge,
  dischargeLine,
  fromLocalBox,
  offsetWords,
  siteTime,
  toLocalBox,
} from "../../static/shared/format.js";
import { lengthText, parseNumber, toMetres } from "../../static/shared/numbers.js";

test("decimal comma and point are the same; what is no number is none", () => {
  assert.equal(parseNumber("0,251"), 0.251);
  assert.equal(parseNumber(" 0.251 "), 0.251);
  assert.equal(parseNumber("\u22125"), -5);
  assert.equal(parseNumber(",5"), 0.5);
  for (const text of ["", "1,234", "0.25.1", "abc", "12,34.5", "-", "."])
    assert.equal(parseNumber(text), null, text);
});

test("251 typed in metres asks for millimetres, and the other way round", () => {
  const asked = readLength("251", "m", 1.1);
  assert.deepEqual([asked.question, asked.text, asked.must], ["251 mm?", "0.251", true]);
  const back = readLength("0,251", "mm", 1.1);
  assert.deepEqual([back.question, back.text, back.must], ["0,251 m?", "251", false]);
  assert.deepEqual(readLength("0.251", "m", 1.1), { metres: 0.251 });
  assert.deepEqual(readLength("251.5", "mm", 1.1), { metres: 0.2515 });
  assert.deepEqual(readLength("0", "mm", 1.1), { metres: 0 });
  assert.deepEqual(readLength("2", "mm", 1.1), { metres: 0.002 });
  assert.ok(readLength("25000", "mm", 1.1).problem);
  assert.ok(readLength("x", "m", 1.1).problem);
});

test("a figure that the person says is right is taken, unless it cannot be", () => {
  const open = { usual: 0.5, utcOffsetMin: 0, now: "2026-11-25T09:15:00.000Z" };
  const values = {
    ...emptyReading("i", "m", "during"),
    heads: [{ text: "2", at: null }],
    kept: ["2"],
  };
  assert.deepEqual(readForm(values, open).reading.staff_m, [2]);
  const wild = { ...values, heads: [{ text: "251", at: null }], kept: ["251"] };
  assert.deepEqual(readForm(wild, open).reading.staff_m, []);
  assert.match(readForm(wild, open).problems[0], /251 mm/);
});

test("millimetres become metres without a rounding tail", () => {
  assert.equal(toMetres(251, "mm"), 0.251);
  assert.equal(lengthText(0.2505, "m"), "0.2505 m");
  assert.equal(lengthText(0.251, "m"), "0.251 m");
  assert.equal(lengthText(0.2505, "mm"), "250.5 mm");
});

test("mean, spread and standard error of repeats (statistics by hand: s = 1, s/sqrt 3)", () => {
  const sums = repeats([0.25, 0.251, 0.252]);
  assert.ok(Math.abs(sums.mean - 0.251) < 1e-12);
  assert.ok(Math.abs(sums.spread - 0.002) < 1e-12);
  assert.ok(Math.abs(sums.standardError - 0.001 / Math.sqrt(3)) < 1e-12);
  assert.equal(repeats([]), null);
  assert.equal(repeats([0.2]).standardError, null);
});

test("staff 0.251 m, zero 99.223, crest 99.2235: head 0.2505 m (levelling arithmetic)", () => {
  const zero = {
    valid_from: "2026-01-01T00:00:00Z",
    offset_m: 99.223 - 99.2235,
    tail_offset_m: null,
  };
  const structure = {
    gauge_zeros: [zero],
    ratings: [rating()],
    head_uncertainty_m: 0.003,
    pond_area_m2: null,
  };
  const seen = assess(reading([0.251]), structure);
  assert.ok(Math.abs(seen.head_m - 0.2505) < 1e-9);
});

function rating() {
  const heads_m = Array.from({ length: 64 }, (_, i) => 0.01 * (0.6 / 0.01) ** (i / 63));
  const table = {
    heads_m,
    discharge_m3s: heads_m.map((h) => 0.69 * h ** 1.522),
    device_pct: heads_m.map(() => 3),
    exponent: heads_m.map(() => 1.522),
    modular_limit: heads_m.map(() => 0.62),
    drowned: null,
    head_min_m: 0.03,
    head_max_m: 0.6,
    cease_to_flow_m: 0,
    can_drown: true,
    warn_submergence: 0.9,
    max_submergence: 0.95,
    hash: "h",
  };
  return { id: 7, valid_from: "2026-01-01T00:00:00Z", table };
}

function reading(staff_m, extra = {}) {
  return {
    staff_m,
    read_at: null,
    observed_at: "2026-11-25T09:15:00.000Z",
    tailwater: { state: "not_seen", staff_m: null, text: null },
    gate_opened_at: null,
    conditions: [],
    sensor_head_m: null,
    ...extra,
  };
}

test("flags of the reading's own context", () => {
  const zero = { valid_from: "2025-01-01T00:00:00Z", offset_m: 0, tail_offset_m: null };
  const structure = {
    gauge_zeros: [zero],
    ratings: [rating()],
    head_uncertainty_m: 0.003,
    pond_area_m2: null,
  };
  const seen = assess(reading([0.2, 0.24], { conditions: ["surging"], sensor_head_m: 0.21 }), {
    ...structure,
    ratings: [{ ...rating(), valid_from: "2025-01-01T00:00:00Z" }],
  });
  assert.deepEqual(seen.flow.flags, [
    "surging",
    "repeats disagree",
    "zero overdue",
    "differs from sensor",
  ]);
  assert.equal(seen.flow.flow, "assumed free");
});

test("without a rating or a zero the reading is kept, not rated, in words", () => {
  const seen = assess(reading([0.2]), { gauge_zeros: [], ratings: [], head_uncertainty_m: 0.003 });
  assert.equal(seen.flow.flow, "not rated");
  assert.match(seen.flow.note, /gauge zero/);
  assert.deepEqual(previewBody(seen), {
    discharge_m3s: null,
    uncertainty_pct: null,
    flow: "not rated",
    flags: [],
    rating_id: null,
    table_hash: null,
  });
});

test("the rating in force is the latest begun, never a later one", () => {
  const dated = [
    { id: 1, valid_from: "2026-01-01T00:00:00Z" },
    { id: 2, valid_from: "2026-06-01T00:00:00Z" },
  ];
  assert.equal(inForce(dated, "2026-05-31T23:59:59Z").id, 1);
  assert.equal(inForce(dated, "2026-06-01T00:00:00Z").id, 2);
  assert.equal(inForce(dated, "2025-01-01T00:00:00Z"), null);
});

test("a discharge is rounded to two figures of its uncertainty", () => {
  assert.deepEqual(discharge(0.11063, 4.3), {
    value: "110.6",
    unit: "L/s",
    plusMinus: "4.8",
    pct: "4.3",
  });
  assert.equal(dischargeLine(1.2345, 12), "1.23 m\u00b3/s \u00b1 0.15 (12 %)");
  assert.equal(dischargeLine(null, null), "no discharge");
});

test("site time is a fixed offset both ways, across midnight", () => {
  assert.equal(siteTime("2026-11-25T14:30:00.000Z", 720), "2026-11-26 02:30");
  assert.equal(toLocalBox("2026-11-25T01:30:00.000Z", -210), "2026-11-24T22:00");
  assert.equal(fromLocalBox("2026-11-24T22:00", -210), "2026-11-25T01:30:00.000Z");
  assert.equal(fromLocalBox("", 0), null);
  assert.equal(offsetWords(-210), "UTC\u221203:30");
});

test("distance on the sphere: one degree of latitude is 111.2 km", () => {
  assert.ok(
    Math.abs(distanceM({ latitude: 0, longitude: 0 }, { latitude: 1, longitude: 0 }) - 111195) < 50,
  );
});

test("nearest first with a position, most recently read without", () => {
  const sites = [
    { name: "far", latitude: 2, longitude: 0, last_reading_at: "2026-11-25T00:00:00Z" },
    { name: "near", latitude: 1, longitude: 0, last_reading_at: null },
    { name: "nowhere", latitude: null, longitude: null, last_reading_at: "2026-11-24T00:00:00Z" },
  ];
  assert.deepEqual(
    order(sites, { latitude: 0, longitude: 0 }).map(({ site }) => site.name),
    ["near", "far", "nowhere"],
  );
  assert.deepEqual(
    order(sites, null).map(({ site }) => site.name),
    ["far", "nowhere", "near"],
  );
});

test("ids are version 7, variant 10, and sort in the order of making (RFC 9562)", () => {
  let time = 1764062100000;
  const next = makeUuid7(() => time);
  const ids = [];
  for (let i = 0; i < 6000; i++) {
    if (i % 5500 === 0) time += 1;
    if (i === 100) time -= 50; // a clock set back must not turn the order round
    ids.push(next());
  }
  for (const id of ids.slice(0, 50))
    assert.match(id, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.deepEqual(ids, [...ids].sort());
  assert.equal(new Set(ids).size, ids.length);
  assert.equal(
    parseInt(
      makeUuid7(() => 1645557742000)()
        .slice(0, 13)
        .replace("-", ""),
      16,
    ),
    1645557742000,
  );
});

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

test("a visit's change is a correction of the visit, at the visit's time", () => {
  const values = { ...emptyVisit("v1"), observers: "Tamsin, , Rudd", cautions_read: true };
  const site = { id: 3, utc_offset_min: 720 };
  const first = visitEntry(values, { site, personId: 1, visit: null, now: context.now });
  assert.deepEqual(first.body.observers, ["Tamsin", "Rudd"]);
  assert.equal(first.corrects, null);
  const second = visitEntry(
    { ...values, id: "v2", reason: "note added" },
    { site, personId: 1, visit: { record: { entry: first } }, now: "2026-11-25T11:00:00.000Z" },
  );
  assert.deepEqual(
    [second.corrects, second.observed_at, second.body.started_at],
    ["v1", first.observed_at, first.body.started_at],
  );
});

/** Put-right without the page: every kind has a form, and a record comes back with its figures. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { faultPath, fieldWords, shownValue, unitOf } from "../../static/field/base/fault_words.js";
import { KINDS, kindWords } from "../../static/field/base/kinds.js";
import { textsOfDimensions, valuesOfStop } from "../../static/field/install/correct.js";
import { emptyStop, stopBody } from "../../static/field/install/entry.js";
import { makeDrafts, ownKey } from "../../static/field/keep/drafts.js";
import { valuesOfRun } from "../../static/field/levels/correct.js";
import { valuesOfOpening } from "../../static/field/opening/correct.js";
import { emptyOpening, openingEntry } from "../../static/field/opening/entry.js";
import { observedAt } from "../../static/field/typed/text.js";
import { emptyVisit, visitEntry, visitValues } from "../../static/field/visit/entry.js";
import { memoryDatabase } from "./memory_database.js";

const SITE = { id: 1, head_unit: "mm", utc_offset_min: 720 };
const NOW = "2026-11-25T10:00:00.000Z";

test("every kind that the office knows has a form on the phone, withdrawals aside", () => {
  const text =
    readFileSync(new URL("../../app/services/entries/kinds.py", import.meta.url), "utf8") +
    readFileSync(new URL("../../app/services/entries/bodies/survey.py", import.meta.url), "utf8");
  const tables = [
    ...text.matchAll(/(?:SURVEY_)?BODIES: dict\[str, type\[Strict\]\] = \{([^}]*)\}/g),
  ]
    .map((found) => found[1])
    .join("");
  const kinds = [...tables.matchAll(/"(\w+)":/g)]
    .map((found) => found[1])
    .filter((kind) => kind !== "withdrawal");
  assert.ok(kinds.length >= 11, kinds.join());
  for (const kind of kinds) assert.ok(KINDS[kind]?.page, kind);
  assert.equal(kindWords("ice_survey"), "Ice survey");
});

test("the field of a refusal as a path and in words", () => {
  assert.deepEqual(faultPath("body.observed.volumetric.fills.4.time_s.constrained-str"), [
    "fills",
    "4",
    "time_s",
  ]);
  assert.deepEqual(faultPath("body.rows.1.is"), ["rows", "1", "is"]);
  assert.equal(fieldWords("body.heads.1.staff_m"), "Heads 2 staff (m)");
  assert.equal(fieldWords("site_id"), "Site");
  assert.equal(fieldWords(""), "This record");
  assert.equal(unitOf(["sensor", "before_m"]), "m");
  assert.equal(unitOf(["measured_m", "0"]), "m");
  assert.equal(unitOf(["m"]), "");
  assert.equal(shownValue(""), "");
  assert.ok(shownValue("9".repeat(200)).length < 50);
});

test("an install stop comes back with every figure, and makes the same body", () => {
  const stop = {
    key: "S5",
    parts: ["moment", "lift", "box", "concrete", "corners", "widths", "creep", "tail", "delivered"],
    asks: [],
  };
  const fields = {
    ...emptyStop("x", "S5").fields,
    reference: "BM1",
    reference_rl_m: "100.25",
    backsight_m: "1.2035",
    corner_ul: "1.3005",
    corner_dr: "1.3",
    tolerance: "2",
    top_m: "304.8",
    bottom_m: "305.1",
    width_limit: "1",
    lift_m: "0.35",
    base_height_m: "0.9",
    length_m: "2.4",
    width_m: "1.1",
    water_depth_m: "0.4",
    concrete_depth_m: "0.3",
    mass_kg: "180",
    hold_down_kn: "1.5",
    target: "1.3",
    slab: "0.4",
    walls: "0.7",
    void_m3: "0.1",
    verticals_m: "0.6 0.6",
    horizontals_m: "2.5",
    head_m: "0.5",
    fall_m: "0.2",
    protection_m: "3",
    tail_water_depth_m: "0.25",
    scour: "none seen",
    delivered: "1 m3",
  };
  const typed = {
    ...emptyStop("x", "S5"),
    fields,
    moment: "during",
    seen: { level: "yes" },
    weather: "dry",
    note: "n",
    went_on: "go",
  };
  const { body, lacking } = stopBody(typed, stop);
  assert.deepEqual(lacking, []);
  const back = valuesOfStop({ body }, "y");
  assert.deepEqual(stopBody(back, stop).body, body);
  assert.equal(back.fields.top_m, "304.8");
});

test("dimensions come back as typed, in mm", () => {
  const body = {
    dimensions: [{ key: "throat", label: "Throat", measured_m: [0.3048, 0.305] }],
    instrument: "tape",
  };
  assert.deepEqual(textsOfDimensions({ body }), { throat: "304.8 305", instrument: "tape" });
});

test("an opening comes back whole and keeps the times of what was done", () => {
  const values = {
    ...emptyOpening("a", "mm"),
    gate: [{ at: "2026-11-25T08:00:00.000Z", opening: "2 turns" }],
    heads: [{ at: "2026-11-25T08:10:00.000Z", staff_m: 0.2515, tail_staff_m: null }],
    seeps: { toe: "clear" },
    gaugings: ["g"],
    sensor_staff: "251.5",
    sensor_before: "249",
    sensor_after: "251.5",
    clock_right: "2026-11-25T08:20:00.000Z",
    clock_before: "2026-11-25T20:19:31",
    clock_after: "2026-11-25T20:20:00",
    fit: true,
    fit_from: "2026-11-25T21:00",
    fit_words: "w",
    note: "n",
    seep_note: "s",
  };
  const context = { site: SITE, structure: { id: 1 }, visitId: null, personId: 1 };
  const found = { steady: { word: "steady" }, open: [] };
  const first = openingEntry(values, found, { ...context, now: NOW });
  const record = { entry: first, refusal: { field: "body.note" } };
  const back = valuesOfOpening(first, "b", SITE);
  const again = openingEntry(back, found, { ...context, record, now: "2026-11-26T10:00:00.000Z" });
  assert.deepEqual(again.body, first.body);
  assert.deepEqual([again.id, again.observed_at], ["b", first.observed_at]);
});

test("a level run keeps its wish to set the zero", () => {
  const body = {
    unit: "m",
    rows: [],
    start_rl: 100,
    close_rl: null,
    peg_test: null,
    rule: { name: "setups" },
    adjusted: false,
    staff_mark_m: null,
    tail_mark_m: null,
    corner_tolerance_m: 0.002,
    low_head_m: 0.1,
    instrument: "",
    note: "",
    set_zero: { from: "2026-11-25T08:00:00.000Z", reason: "moved" },
  };
  const { set_zero, zero_from, zero_reason } = valuesOfRun({ body }, "x", 720);
  assert.deepEqual([set_zero, zero_from, zero_reason], [true, "2026-11-25T20:00", "moved"]);
});

test("a visit that is put right keeps when it began", () => {
  const context = { site: SITE, personId: 1, visit: null };
  const first = visitEntry({ ...emptyVisit("v"), note: "long" }, { ...context, now: NOW });
  const record = { entry: first, refusal: { field: "body.note" } };
  const again = visitEntry(
    { ...visitValues(first, "v"), note: "short" },
    { ...context, record, now: "2026-11-25T12:00:00.000Z" },
  );
  assert.deepEqual(
    [again.observed_at, again.body.started_at, again.corrects, again.body.note],
    [NOW, NOW, null, "short"],
  );
});

test("put right, a record keeps its time unless the time is what was wrong", () => {
  const record = (field) => ({
    entry: { observed_at: "1989-01-01T00:00:00Z" },
    refusal: { field },
  });
  assert.equal(observedAt({ record: record("body.note") }, NOW), "1989-01-01T00:00:00Z");
  assert.equal(observedAt({ record: record("observed_at") }, NOW), NOW);
  assert.equal(observedAt({ record: null }, NOW), NOW);
});

test("two people's drafts of one form stand side by side", async () => {
  const memory = memoryDatabase();
  const drafts = makeDrafts(memory.open);
  for (const by of [1, 2]) {
    await drafts.keep(
      ownKey("reading:1:alone:during", by),
      { text: String(by) },
      { bare: "reading:1:alone:during", by, by_name: `P${by}`, href: "/", title: "t" },
    );
    await drafts.settle();
  }
  assert.equal((await drafts.all()).length, 2);
  assert.equal((await drafts.get(ownKey("reading:1:alone:during", 1))).values.text, "1");
});

/** What is typed, understood: numbers, units, sums, times, entries.  */
import assert from "node:assert/strict";
import { test } from "node:test";
import { emptyReading } from "../../../static/field/reading/empty.js";
import { readForm } from "../../../static/field/reading/entry.js";
import { readLength, usualStaff, usualTail } from "../../../static/field/typed/plausible.js";
import { powerTable } from "../power_table.js";

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

const usual = usualStaff(structure, site, NOW);

test("251 typed in metres asks for millimetres, and the other way round", () => {
  const asked = readLength("251", "m", 1.1);
  assert.deepEqual([asked.question, asked.text, asked.must], ["251 mm?", "0.251", true]);
  const back = readLength("0,251", "mm", 1.1);
  assert.deepEqual([back.question, back.text, back.must], ["0,251 m?", "251", false]);
  assert.deepEqual(readLength("0.251", "m", 1.1), { metres: 0.251 });
  assert.deepEqual(readLength("251.5", "mm", 1.1), { metres: 0.2515 });
  assert.deepEqual(readLength("0", "mm", 1.1), { metres: 0 });
  assert.deepEqual(readLength("2", "mm", 1.1), { metres: 0.002 });
  assert.ok(readLength("60000", "mm", 1.1).problem);
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

test("the usual range is the record's, over the staff's own zero", () => {
  assert.ok(Math.abs(usual.low - 0.091) < 1e-9 && Math.abs(usual.last - 0.251) < 1e-9);
  assert.ok(usualStaff({ ...structure, usual_head_m: null }, { recent: [] }, NOW).high > 1.1);
});

test("15.32 m at a staff that shows 1 to 2 m offers 1.532 m, and may stand as typed", () => {
  const deep = { low: 0.9, high: 2, last: 1.5, dry: -0.05 };
  const asked = readLength("15.32", "m", deep);
  assert.deepEqual([asked.question, asked.text, asked.must], ["1.532 m?", "1.532", false]);
  assert.equal(asked.typed[0].words, "15.32 m, as typed");
  assert.deepEqual(readLength("1.532", "m", deep), { metres: 1.532 });
});

test("a tail staff may stand low; far under the crest, or over every usual head, is asked", () => {
  const tail = usualTail(usual, structure, NOW);
  assert.deepEqual(readLength("20", "mm", tail), { metres: 0.02 });
  assert.deepEqual(readLength("-30", "mm", tail), { metres: -0.03 });
  assert.ok(readLength("-300", "mm", tail).question);
  assert.equal(readLength("2150", "mm", tail).offers[0].text, "215");
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

test("a staff in centimetres: the decimal sign, millimetres and metres are told apart", () => {
  const asked = (text) => readLength(text, "cm", usual);
  assert.deepEqual(asked("25.1"), { metres: 0.251 });
  assert.equal(asked("251").question, "251 mm?");
  assert.equal(asked("251").text, "25.1");
  assert.equal(asked("0.251").question, "0.251 m?");
  assert.equal(asked("0.251").text, "25.1");
  assert.equal(asked("2.51").text, "25.1");
  assert.equal(readLength("25.1", "m", usual).question, "25.1 cm?");
});

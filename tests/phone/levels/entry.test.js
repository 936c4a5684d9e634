/**
 * The level book from typed figures to an entry. The worked run is invented, its results worked by
 * hand (plain arithmetic); limit 0.003 ft times the root of the set-ups: Kenney 2010, USGS TM 3-A19.
 */
import assert from "node:assert/strict";
import { test } from "node:test";
import { kindsAfter, offer, readSight, turningPoint } from "../../../static/field/levels/book.js";
import { doubt, suspicions } from "../../../static/field/levels/doubts.js";
import * as book from "../../../static/field/levels/entry.js";
import { reduce } from "../../../static/field/levels/reduce.js";

const SIGHTS = [
  ["bs", "BM1", "benchmark", "1.342"],
  ["is", "race floor", "floor", "2.271"],
  ["is", "crest upstream left", "corner_ul", "2,118"],
  ["is", "crest upstream right", "corner_ur", "2.119"],
  ["is", "crest downstream left", "corner_dl", "2.117"],
  ["is", "crest downstream right", "corner_dr", "2.120"],
  ["is", "staff mark", "staff_mark", "1.619"],
  ["is", "sensor face", "sensor", "2.139"],
  ["is", "water at the staff", "water", "1.868"],
  ["fs", "TP1", "turning_point", "1.507"],
  ["bs", "TP1", "turning_point", "1.455"],
  ["is", "tail race floor", "tail_floor", "2.402"],
  ["is", "tail water", "tail_water", "2.055"],
  ["is", "BM2", "benchmark", "0.988"],
  ["fs", "TP2", "turning_point", "1.633"],
  ["bs", "TP2", "turning_point", "1.721"],
  ["is", "BM2", "benchmark", "1.075"],
  ["fs", "BM1", "benchmark", "1.377"],
].map(([kind, point, role, text]) => ({ kind, point, role, text, struck: [] }));

const run = (changes = {}) => ({
  ...book.emptyRun("id-1"),
  start_text: "100",
  staff_text: "0.500",
  sights: structuredClone(SIGHTS),
  ...changes,
});
const near = (got, wanted) => assert.ok(Math.abs(got - wanted) < 1e-9, `${got} is not ${wanted}`);
const reading = (values, place, text) => {
  values.sights[place].text = text;
  return values;
};

test("the worked run: crest, misclosure, zero, corner range as worked by hand", () => {
  const { run: reduced, results, problem } = reduce(run());
  assert.equal(problem, null);
  near(results.crest_rl_m, 99.2235);
  near(reduced.misclosure_mm, 1);
  assert.equal(reduced.limit_mm.toFixed(2), "1.58");
  assert.equal(reduced.within_limit, true);
  near(results.zero_minus_crest_m, -0.0005);
  assert.equal(results.corner_word, "outside 2 mm");
  near(results.corner_range_m, 0.003);
  near(results.tailwater_ratio, 0.0115 / 0.2505);
  assert.deepEqual(
    [reduced.sum_bs, reduced.sum_fs].map((each) => each.toFixed(3)),
    ["4.518", "4.517"],
  );
});

test("a foresight misread by 0.1 m is found, and so is where", () => {
  const { run: reduced } = reduce(reading(run(), 9, "1.607"));
  assert.equal(reduced.within_limit, false);
  assert.match(doubt(reduced), /misclosure -99.0 mm is over the limit 1.58 mm/);
  const said = suspicions(reading(run(), 9, "1.607"), reduced).join("\n");
  assert.match(said, /BM2 agrees from set-up 2 to 3/);
  assert.match(said, /close to 100 mm/);
});

test("a corner misread shows against the others though the run closes", () => {
  const values = reading(run(), 3, "2.219");
  const { run: reduced } = reduce(values);
  assert.equal(reduced.within_limit, true);
  assert.match(
    suspicions(values, reduced).join(),
    /crest upstream right lies 10\d mm from the other corners/,
  );
});

test("millimetres typed for metres are asked about, a comma is read", () => {
  assert.deepEqual(readSight("1342", "m").text, "1.342");
  assert.deepEqual(readSight("1,342", "m"), { value: 1.342 });
  assert.ok(readSight("abc", "m").problem);
  assert.equal(readSight(" ", "m"), null);
  assert.deepEqual(readSight("4.21", "ft"), { value: 4.21 });
});

test("what is offered next follows the book", () => {
  assert.deepEqual(kindsAfter([]), ["bs"]);
  assert.deepEqual(kindsAfter(SIGHTS.slice(0, 10)), ["bs"]);
  assert.equal(offer(SIGHTS.slice(0, 10)).point, "TP1");
  assert.equal(offer(SIGHTS.slice(0, 3)).role, "corner_ur");
  assert.equal(turningPoint(SIGHTS.slice(0, 10)), "TP2");
});

test("a zero needs crest, staff mark and, in doubt, a reason", () => {
  const asks = (values) => book.problems(values, reduce(values)).join(" ");
  assert.equal(asks(run({ set_zero: true })), "");
  assert.match(asks(run({ set_zero: true, staff_text: "" })), /mark of the staff/);
  assert.match(asks(reading(run({ set_zero: true }), 9, "1.607")), /accepted because/);
  const reason = { set_zero: true, zero_reason: "staff moved" };
  assert.match(asks(reading(run(reason), 9, "1.607")), /accepted because/, "a reason is not that");
  assert.equal(
    asks(reading(run({ set_zero: true, accepted_text: "levelled twice" }), 9, "1.607")),
    "",
  );
  assert.match(asks(run({ sights: SIGHTS.slice(0, 8), set_zero: true })), /not closed/);
  assert.match(asks(run({ rule: "fixed" })), /limit in mm/);
});

test("the entry carries the book as booked, with what was struck out", () => {
  const values = run({ set_zero: true, removed: ["bank IS 0.900"] });
  values.sights[9].struck = ["1.607"];
  const site = { id: 3, utc_offset_min: 720 };
  const entry = book.runEntry(values, reduce(values), {
    site,
    structure: { id: 4 },
    visitId: null,
    personId: 1,
    now: "2026-11-25T00:00:00.000Z",
    exponent: 1.5,
  });
  assert.deepEqual(entry.body.rows[9], {
    point: "TP1",
    role: "turning_point",
    bs: null,
    is: null,
    fs: 1.507,
    struck: ["1.607"],
  });
  assert.equal(entry.body.set_zero.from, "2026-11-25T00:00:00.000Z");
  assert.match(entry.body.note, /Struck out: bank/);
  near(entry.body.preview.crest_rl_m, 99.2235);
});

test("two-peg test: 0.03 mm per m is the limit (USGS TM 3-A19)", () => {
  const peg = {
    middle_a_m: "1.500",
    middle_b_m: "1.400",
    end_a_m: "1.350",
    end_b_m: "1.249",
    end_distance_a_m: "2",
    end_distance_b_m: "42",
  };
  const { test: found } = book.pegTest(peg);
  assert.equal(found.passes, true);
  assert.equal(book.pegTest({ ...peg, end_b_m: "1.247" }).test.passes, false);
  assert.ok(book.pegTest({ ...peg, end_b_m: "" }).problem);
  assert.equal(book.pegTest(Object.fromEntries(Object.keys(peg).map((key) => [key, ""]))), null);
});

test("property: a constant on all levels changes no difference; a reversed run reverses its sign", () => {
  const low = reduce(run());
  const high = reduce(run({ start_text: "812.5" }));
  near(high.results.zero_minus_crest_m, low.results.zero_minus_crest_m);
  near(high.run.misclosure_mm, low.run.misclosure_mm);
  const turned = structuredClone(SIGHTS)
    .reverse()
    .map((sight) => ({ ...sight, kind: { bs: "fs", fs: "bs", is: "is" }[sight.kind] }));
  near(reduce(run({ sights: turned })).run.misclosure_mm, -low.run.misclosure_mm);
});

test("a zero in force from the year to come is not saved", () => {
  const values = { ...book.emptyRun("z"), set_zero: true, zero_from: "2027-11-25T13:00" };
  const asks = (from) =>
    book
      .problems({ ...values, zero_from: from }, reduce(values), {
        utcOffsetMin: 720,
        now: "2026-11-25T01:00:00Z",
      })
      .join(" ");
  assert.match(asks("2027-11-25T13:00"), /zero's beginning lies ahead/);
  assert.doesNotMatch(asks("2026-11-25T13:04"), /lies ahead/);
});

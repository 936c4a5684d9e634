/** A check gauging from the form to its entry, by the server's vectors. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  emptyGauging,
  gaugingEntry,
  isHalfFilled,
  problemWords,
  readGauging,
  valuesOf,
} from "../../../static/field/gauging/entry.js";
import { METHODS, methodOf, worked } from "../../../static/field/gauging/methods.js";
import { powerTable } from "../power_table.js";
import { runVectors } from "../vectors.js";

const START = "2026-11-25T09:15:00.000Z";

const structure = (extra = {}) => ({
  id: 3,
  gauge_zeros: [
    { id: 1, valid_from: "2026-01-01T00:00:00Z", offset_m: -0.0005, tail_offset_m: null },
  ],
  ratings: [{ id: 7, valid_from: "2026-01-01T00:00:00Z", table: powerTable() }],
  head_uncertainty_m: 0.003,
  ...extra,
});

const site = { id: 2, utc_offset_min: 720, head_unit: "mm", check_gaugings: [] };

function velocityValues() {
  const part = methodOf("velocity_area").empty();
  const row = (distance, depth, velocity) => ({
    distance,
    depth,
    mode: "v06",
    points: { v06: { velocity, counts: "", seconds: "" } },
  });
  part.first.distance = "0";
  part.last.distance = "2";
  part.rows = [
    ["0,5", "0,3", "0.2"],
    ["1", "0.5", "0,3"],
    ["1.5", "0.3", "0.2"],
  ].map((each) => row(...each));
  return {
    ...emptyGauging("018f0000-0000-7000-8000-000000000001", "mm"),
    method: "velocity_area",
    parts: { velocity_area: part },
    heads: [
      { text: "250", at: START },
      { text: "251", at: "2026-11-25T09:45:00.000Z" },
    ],
    tail: "clearly_free",
    cautions_read: true,
  };
}

const open = () => ({
  structure: structure(),
  pack: {},
  highest: 0.9,
  utcOffsetMin: 720,
  now: "2026-11-25T10:00:00.000Z",
});

runVectors("gauging_observed_vectors.json", { worked });

test("a form becomes an entry with every figure as typed, and back again", () => {
  const values = velocityValues();
  const read = readGauging(values, open());
  assert.deepEqual(read.blocking, []);
  assert.equal(read.problem, null);
  // mid-section by hand: (0.3*0.2 + 0.5*0.3 + 0.3*0.2) * 0.5
  assert.ok(Math.abs(read.gauging.discharge_m3s - 0.135) < 1e-12);
  const entry = gaugingEntry(values, read, {
    site,
    structure: structure(),
    visitId: null,
    personId: 4,
    corrects: null,
    now: "2026-11-25T10:00:00.000Z",
  });
  assert.equal(entry.kind, "check_gauging");
  assert.deepEqual(entry.body.observed.verticals[1], {
    distance_m: "0,5",
    depth_m: "0,3",
    points: { v06: { velocity_ms: "0.2", counts: null, seconds: null } },
  });
  assert.deepEqual(
    [entry.body.started_at, entry.body.ended_at],
    [START, "2026-11-25T09:45:00.000Z"],
  );
  assert.equal(entry.body.heads[0].staff_m, 0.25);
  assert.equal(entry.body.preview.rating_id, 7);
  const again = readGauging(
    valuesOf(JSON.parse(JSON.stringify(entry)), "x", () => ""),
    open(),
  );
  assert.deepEqual(again.observed, read.observed);
});

test("while a vertical is being typed the sum so far stays, and saving whole waits", () => {
  const values = velocityValues();
  values.parts.velocity_area.rows[2].points = {};
  const read = readGauging(values, open());
  assert.equal(read.problem, null);
  assert.match(problemWords(read.unfinished), /Vertical 4/);
  assert.deepEqual(read.gauging.places, [0, 1, 2, 4]);
  assert.equal(read.verdict, null);
  values.parts.velocity_area.last.distance = "";
  assert.match(problemWords(readGauging(values, open()).unfinished), /Vertical 4|Last edge/);
});

test("verticals out of order are named and nothing typed is lost", () => {
  const values = velocityValues();
  values.parts.velocity_area.rows[1].distance = "0.4";
  const read = readGauging(values, open());
  assert.equal(
    problemWords(read.problem),
    "Vertical 3 tape \u201c0.4\u201d: verticals go one way along the tape. Put it in its place, or correct it: the one before is at 0.5 m.",
  );
  const entry = gaugingEntry(values, read, {
    site,
    structure: structure(),
    personId: 4,
    now: START,
  });
  assert.equal(entry.body.preview.discharge_m3s, null);
  assert.equal(entry.body.observed.verticals[2].distance_m, "0.4");
});

test("times typed by hand need a reason, and the end may not lie before the start", () => {
  const values = { ...velocityValues(), start: "2026-11-25T21:30", end: "2026-11-25T21:00" };
  assert.deepEqual(readGauging(values, open()).blocking, [
    "Say why the times are typed by hand.",
    "The end lies before the start. Check the times.",
  ]);
});

test("every method starts empty, notices the first figure, and keeps what another one holds", () => {
  for (const method of METHODS) assert.equal(method.begun(method.empty()), false, method.key);
  const values = emptyGauging("i", "mm");
  assert.equal(isHalfFilled(values), false);
  values.parts.volumetric = {
    ...methodOf("volumetric").empty(),
    fills: [{ volume: "20", time: "8" }],
  };
  values.method = "float";
  assert.equal(isHalfFilled(values), true);
});

test("a start or an end in the time to come is not saved", () => {
  const values = {
    ...velocityValues(),
    start: "2027-11-25T21:00",
    end: "2027-11-25T21:30",
    time_reason: "x",
  };
  assert.match(
    readGauging(values, open()).blocking.join(" "),
    /The start lies ahead.*The end lies ahead/,
  );
});

test("an odd figure stands in the way of Save until it is answered", () => {
  const values = velocityValues();
  const row = values.parts.velocity_area.rows[1];
  row.depth = "15";
  assert.match(readGauging(values, open()).blocking.join(" "), /Answer "Depth 15 m\?" first/);
  values.kept.push(readGauging(values, open()).odd.key);
  assert.deepEqual(readGauging(values, open()).blocking, []);
});

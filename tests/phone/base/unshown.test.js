/** A correction keeps every field that its form does not show; a visit says how it ended. */
import assert from "node:assert/strict";
import test from "node:test";

import { withUnshown } from "../../../static/field/base/unshown.js";
import { emptyGauging, gaugingEntry } from "../../../static/field/gauging/entry.js";
import { valuesOfRun } from "../../../static/field/levels/correct.js";
import { emptyRun, runEntry } from "../../../static/field/levels/entry.js";
import { reduce } from "../../../static/field/levels/reduce.js";
import {
  emptyVisit,
  visitEntry,
  visitProblem,
  visitValues,
} from "../../../static/field/visit/entry.js";

const SITE = { id: 3, utc_offset_min: 720, head_unit: "mm", structures: [], survey: {} };
const NOW = "2026-11-25T03:00:00.000Z";

const record = (entry, refusal = null) => ({ id: entry.id, entry, refusal });

const visit = (body = {}) =>
  visitEntry(
    { ...emptyVisit("first"), cautions_read: true },
    { site: SITE, personId: 1, visit: null, record: null, now: "2026-11-25T01:00:00.000Z" },
    body,
  );

test("what a form does not make stays, of the same kind only", () => {
  const made = { kind: "visit", body: { note: "new" } };
  const earlier = record({ kind: "visit", body: { note: "old", hours: 2, done: ["weed cut"] } });
  assert.deepEqual(withUnshown(made, earlier).body, { note: "new", hours: 2, done: ["weed cut"] });
  assert.equal(withUnshown(made, null), made);
  const other = record({ kind: "photo", body: { caption: "x" } });
  assert.deepEqual(withUnshown(made, other).body, { note: "new" });
});

test("an answer that a form leaves out says no, and a refused field is not sent again", () => {
  const made = { kind: "head_reading", body: { staff_m: [0.2] } };
  const body = { staff_m: [0.3], dry: true, as_typed: ["0.3"], colour: "red", other: 1 };
  const refusal = { field: "body.colour", rule: "unknown" };
  const kept = withUnshown(made, record({ kind: "head_reading", body }, refusal)).body;
  assert.deepEqual(kept, { staff_m: [0.2], other: 1 });
});

test("a change of a visit keeps end, hours and work to the second", () => {
  const first = visit();
  const ended = {
    ...first,
    body: {
      ...first.body,
      ended_at: "2026-11-25T02:31:17.250Z",
      hours: 1.251,
      done: ["weed cut", "repaired"],
    },
  };
  const held = { record: record(first), latest: record(ended) };
  const values = { ...visitValues(ended, "second"), note: "and a gate", reason: "forgot the gate" };
  const place = { site: SITE, personId: 1, visit: held, record: null, now: NOW };
  const { body, corrects } = visitEntry(values, place);
  assert.equal(corrects, "first");
  assert.equal(body.ended_at, "2026-11-25T02:31:17.250Z");
  assert.equal(body.hours, 1.251);
  assert.deepEqual(body.done, ["weed cut", "repaired"]);
  assert.equal(body.note, "and a gate");
});

test("to say only how a visit ended needs no other reason; to change what was said does", () => {
  const first = visit();
  const held = { record: record(first), latest: record(first) };
  const place = { site: SITE, personId: 1, visit: held, record: null, now: NOW };
  const closing = {
    ...visitValues(first, "x"),
    ended: "2026-11-25T14:40",
    hours: "1,5",
    done: ["cleaned"],
  };
  assert.equal(visitProblem(closing, place), "");
  const made = visitEntry(closing, place);
  assert.equal(made.reason, "end of the visit");
  assert.equal(made.body.ended_at, "2026-11-25T02:40:00.000Z");
  assert.equal(made.body.hours, 1.5);
  assert.match(visitProblem({ ...closing, note: "more" }, place), /Say why/);
  assert.match(visitProblem(visitValues(first, "x"), place), /Say why/);
  const again = { ...place, visit: { record: record(first), latest: record(made) } };
  assert.match(visitProblem({ ...visitValues(made, "y"), hours: "2" }, again), /Say why/);
});

test("an end before the beginning, one ahead and hours that are none are told", () => {
  const first = visit();
  const held = { record: record(first), latest: record(first) };
  const place = { site: SITE, personId: 1, visit: held, record: null, now: NOW };
  const said = (changes) => visitProblem({ ...visitValues(first, "x"), ...changes }, place);
  assert.match(said({ ended: "2026-11-25T12:00" }), /before it began/);
  assert.match(said({ ended: "2026-11-26T12:00" }), /lies ahead/);
  for (const hours of ["x", "0", "-1", "73", "800"]) assert.match(said({ hours }), /Hours/, hours);
});

test("a gauging and a level run keep the instrument of the register when they are corrected", () => {
  const structure = { id: 7, ratings: [], gauge_zeros: [], tailwater_gauge: false };
  const values = { ...emptyGauging("g", "mm"), method: "velocity_area", instrument_id: "12" };
  const read = {
    ...{
      observed: { method: "velocity_area" },
      startedAt: NOW,
      endedAt: NOW,
      heads: [],
      flags: [],
    },
    ...{ tailwater: { state: "not_seen", staff_m: null, text: null }, atHead: {}, verdict: null },
  };
  const made = gaugingEntry(values, read, { site: SITE, structure, personId: 1, now: NOW });
  assert.equal(made.body.instrument_id, 12);
  assert.equal(
    gaugingEntry({ ...values, instrument_id: "" }, read, {
      site: SITE,
      structure,
      personId: 1,
      now: NOW,
    }).body.instrument_id,
    null,
  );

  const run = { ...emptyRun("r"), start_text: "100", instrument_id: "4" };
  run.sights = [
    { kind: "bs", point: "BM1", role: "benchmark", text: "1.2", struck: [] },
    { kind: "fs", point: "BM1", role: "benchmark", text: "1.2", struck: [] },
  ];
  const entry = runEntry(run, reduce(run), {
    site: SITE,
    structure,
    personId: 1,
    now: NOW,
    exponent: 1.5,
  });
  assert.equal(entry.body.instrument_id, 4);
  assert.equal(valuesOfRun(entry, "again", 720).instrument_id, "4");
});

test("fields within fields stay too: of a part, and of a row by its name", () => {
  const made = {
    kind: "dimension_check",
    body: {
      dimensions: [
        { key: "b", measured_m: [0.3] },
        { key: "new", measured_m: [1] },
      ],
      sensor: { staff_m: 0.2 },
    },
  };
  const body = {
    dimensions: [
      { key: "a", measured_m: [2], note: "cleared by the person" },
      { key: "b", measured_m: [0.4], note: "at the top", worn: true },
    ],
    sensor: { staff_m: 0.25, tape: { name: "t3" } },
  };
  assert.deepEqual(withUnshown(made, record({ kind: "dimension_check", body })).body, {
    dimensions: [
      { note: "at the top", worn: true, key: "b", measured_m: [0.3] },
      { key: "new", measured_m: [1] },
    ],
    sensor: { tape: { name: "t3" }, staff_m: 0.2 },
  });
});

test("a row in its place keeps what is unseen only while it is the same row", () => {
  const rows = (...points) => points.map((point) => ({ point, bs: null }));
  const held = (...points) => points.map((point) => ({ point, bs: 1, seen_by: point }));
  const of = (made, body) =>
    withUnshown({ kind: "level_run", body: made }, record({ kind: "level_run", body })).body;
  assert.deepEqual(of({ rows: rows("A", "B") }, { rows: held("A", "B") }).rows, [
    { seen_by: "A", point: "A", bs: null },
    { seen_by: "B", point: "B", bs: null },
  ]);
  assert.deepEqual(of({ rows: rows("A", "C") }, { rows: held("A", "B") }).rows[1], {
    point: "C",
    bs: null,
  });
  assert.deepEqual(of({ rows: rows("B") }, { rows: held("A", "B") }).rows, rows("B"));
});

test("figures cleared, another method and what was worked out are not brought back", () => {
  const of = (made, body, refusal = null) =>
    withUnshown({ kind: "x", body: made }, record({ kind: "x", body }, refusal)).body;
  const corners = { readings_m: { corner_ul: 1.3 } };
  assert.deepEqual(of({ corners }, { corners: { readings_m: { corner_ur: 1.2 } } }), { corners });
  const other = { observed: { method: "float" } };
  assert.deepEqual(of(other, { observed: { method: "volumetric", fills: [] } }), other);
  const preview = { preview: { word: "go" } };
  assert.deepEqual(of(preview, { preview: { word: "stop", was: 1 } }), preview);
  const refused = { field: "body.observed.float.colour" };
  assert.deepEqual(of(other, { observed: { method: "float", colour: 1, kept: 2 } }, refused), {
    observed: { method: "float", kept: 2 },
  });
});

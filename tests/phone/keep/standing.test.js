/** What stands on the phone: the office's rule by vectors, and over this phone's own records. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { stopsSoFar } from "../../../static/field/install/check.js";
import { lastReadingAt, readings, visits } from "../../../static/field/keep/recent.js";
import { standing, standingHere } from "../../../static/field/keep/standing.js";
import { visitEntry, visitValues } from "../../../static/field/visit/entry.js";
import { runVectors } from "../vectors.js";

runVectors("standing_vectors.json", {
  standing: ({ nodes }) => {
    const found = standing(nodes);
    const ids = nodes.map(({ id }) => id).sort();
    return {
      stand: ids.filter(found.stands),
      rivals: ids.filter(found.rival),
      latest: Object.fromEntries(ids.map((id) => [id, found.latest(id)])),
    };
  },
});

const record = (id, corrects = null, changes = {}, state = "stored") => ({
  id,
  state,
  held_at: "2026-11-20T00:00:00Z",
  entry: {
    id,
    kind: "head_reading",
    site_id: 1,
    structure_id: 4,
    visit_id: null,
    by: 1,
    corrects,
    observed_at: `2026-11-20T0${id.length}:00:00Z`,
    body: { occasion: "during" },
    ...changes,
  },
});
const link = (id, corrects = null, changes = {}) => ({
  id,
  kind: "head_reading",
  site_id: 1,
  by: 1,
  any: false,
  moves: false,
  corrects,
  ...changes,
});
const row = (id, by = 1) => ({
  id,
  by,
  structure_id: 4,
  observed_at: "2026-11-20T01:00:00Z",
  occasion: "during",
});
const site = (recent = [], set_aside = []) => ({
  id: 1,
  structures: [{ id: 4 }],
  recent,
  set_aside,
  last_reading_at: recent[0]?.observed_at ?? null,
});
const packOf = (one, links = [], role = "crew") => ({
  person: { id: 1, role },
  people: [],
  sites: [one],
  links,
});
const seen = (pack, records) =>
  readings(pack.sites[0], records, new Set(), String, standingHere(pack, records))
    .map(({ id }) => id)
    .sort();

test("a correction that the office withdrew gives way to what it corrected", () => {
  // corrected on this phone, both stored; then withdrawn at the office, and the pack came
  const pack = packOf(site([row("a")]), [
    link("a"),
    link("b", "a"),
    link("w", "b", { kind: "withdrawal", by: 9, any: true }),
  ]);
  assert.deepEqual(seen(pack, [record("a"), record("b", "a")]), ["a"]);
});

test("what is not sent yet counts over what the pack says", () => {
  const pack = packOf(site([row("a"), row("x")]));
  assert.deepEqual(seen(pack, [record("b", "a", {}, "waiting")]), ["b", "x"]);
  assert.deepEqual(seen(pack, [record("w", "a", { kind: "withdrawal" }, "waiting")]), ["x"]);
  assert.deepEqual(
    seen(pack, [record("b", "a", {}, "refused")]),
    ["a", "b", "x"],
    "a refused one is shown and takes nothing",
  );
  assert.deepEqual(seen(pack, [record("b", "a", {}, "replaced")]), ["a", "x"]);
});

test("a withdrawal on this phone brings back what the office holds aside", () => {
  const pack = packOf(site([row("b")], [row("a")]), [link("a"), link("b", "a")]);
  assert.deepEqual(seen(pack, []), ["b"]);
  assert.deepEqual(seen(pack, [record("w", "b", { kind: "withdrawal" }, "waiting")]), ["a"]);
});

test("crew take nothing from somebody else's reading, the office may", () => {
  const records = [record("b", "a", {}, "waiting")];
  assert.deepEqual(seen(packOf(site([row("a", 2)])), records), ["a"]);
  assert.deepEqual(seen(packOf(site([row("a", 2)]), [], "office"), records), ["b"]);
});

test("rivals and rings are all shown; another kind and another site take nothing", () => {
  const pack = packOf(site([row("a")]));
  assert.deepEqual(seen(pack, [record("b", "a"), record("cc", "a")]), ["b", "cc"]);
  assert.deepEqual(seen(packOf(site()), [record("a", "b"), record("b", "a")]), ["a", "b"]);
  assert.deepEqual(seen(pack, [record("g", "a", { kind: "check_gauging" })]), ["a"]);
  assert.deepEqual(seen(pack, [record("m", "a", { site_id: 2 })]), ["a"]);
  assert.deepEqual(seen(pack, [record("m", "a", { site_id: 2, moves: true })]), []);
});

test("the last reading of a site is one that stands", () => {
  const pack = packOf(site([row("a")]));
  const last = (records) => lastReadingAt(pack.sites[0], records, standingHere(pack, records));
  const late = record("late"); // observed at 04:00
  assert.equal(last([]), "2026-11-20T01:00:00Z");
  assert.equal(last([late]), "2026-11-20T04:00:00Z");
  assert.equal(last([late, record("w", "late", { kind: "withdrawal" })]), "2026-11-20T01:00:00Z");
  assert.equal(last([record("w", "a", { kind: "withdrawal" })]), null);
});

test("a visit changed twice is one line, and a withdrawn one is gone", () => {
  const body = { purpose: "", observers: [], conditions: [], note: "first", cautions_read: true };
  const visit = (id, corrects = null, note = "first") =>
    record(id, corrects, { kind: "visit", body: { ...body, note } });
  const found = (records) => visits(1, records, standingHere(packOf(site()), records));
  const [first, second] = [visit("a"), visit("b", "a", "second")];
  const one = found([first, second])[0];
  assert.equal(one.latest.entry.body.note, "second");
  const third = visitEntry(visitValues(one.latest.entry, "c"), {
    site: { id: 1, utc_offset_min: 0 },
    personId: 1,
    visit: one,
    now: "2026-11-20T05:00:00Z",
  });
  assert.equal(third.corrects, "b", "a further change follows the last one: no rival");
  const [again] = found([first, second, record("c", "b", third)]);
  assert.equal(again.id, "a");
  assert.equal(again.latest.id, "c");
  assert.deepEqual(found([first, record("w", "a", { kind: "withdrawal" })]), []);
});

test("stops that were corrected or withdrawn are not compared with", () => {
  const stop = (id, corrects = null, kind = "install_stop") =>
    record(id, corrects, { kind, body: { stop: "S3" } }, "waiting");
  const survey = { stops: [{ ...row("a"), body: { stop: "S2" } }] };
  const pack = { ...packOf(site()), survey: { sites: {}, structures: { 4: survey } } };
  const found = (records) =>
    stopsSoFar(survey, records, 4, standingHere(pack, records)).map(({ id }) => id);
  assert.deepEqual(found([stop("b")]), ["a", "b"]);
  assert.deepEqual(found([stop("b"), stop("c", "b")]), ["a", "c"]);
  assert.deepEqual(found([stop("b"), stop("w", "a", "withdrawal")]), ["b"]);
});

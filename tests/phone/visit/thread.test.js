/** A visit says what was done in it, what is still open, and the head before and after the work. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { doneIn, stillOpen, workWords } from "../../../static/field/visit/thread.js";

const SITE = {
  id: 3,
  head_unit: "mm",
  structures: [{ id: 7, name: "Flume", loggers: ["Well L1"] }],
};
const visitOf = (body = {}) => {
  const entry = {
    id: "v",
    body: { cautions_read: true, ended_at: null, hours: null, done: [], ...body },
  };
  return { id: "v", record: { entry }, latest: { id: "v", entry } };
};
const record = (id, kind, body = {}, more = {}) => ({
  id,
  state: "waiting",
  ...more,
  entry: {
    id,
    kind,
    visit_id: "v",
    structure_id: 7,
    by: 1,
    observed_at: `2026-11-25T0${id}:00:00Z`,
    body,
  },
});
const read = (id, occasion, ...staff_m) => record(id, "head_reading", { occasion, staff_m });
const STAND = { stands: (id) => id !== "9" };
const open = (done, { body, drafts = [] } = {}) =>
  stillOpen({ visit: visitOf(body), site: SITE, done, drafts, personId: 1 }).map(
    ({ words }) => words,
  );

test("done are the entries that stand or need a look, in the order of their times", () => {
  const refused = record("1", "opening", {}, { state: "refused" });
  const all = [read("3", "during", 0.2), refused, read("9", "during", 0.2)];
  const gone = record("2", "photo", {}, { state: "replaced" });
  assert.deepEqual(
    doneIn("v", [...all, gone], STAND).map(({ id }) => id),
    ["1", "3"],
  );
  assert.deepEqual(doneIn("other", all, STAND), []);
});

test("open is what is not read, not downloaded, not sent right, not ended", () => {
  assert.deepEqual(open([]), [
    "Not read as found",
    "Not read as left: read before you go, also when nothing changed",
    "Logger not downloaded: Well L1",
    "The end of the visit is not recorded",
  ]);
  const done = [read("1", "as_found", 0.25), read("2", "as_left", 0.2), record("3", "logger_file")];
  assert.deepEqual(open(done, { body: { hours: 1 } }), []);
  const refused = record("4", "opening", {}, { state: "refused" });
  const draft = { by: 1, href: "/field/levels?structure=7&visit=v", title: "Level book, Race" };
  assert.deepEqual(
    open([...done, refused], {
      body: { hours: 1, cautions_read: false },
      drafts: [draft, { ...draft, by: 2 }, { ...draft, href: "/field/levels?visit=w" }],
    }),
    [
      "The cautions were not read",
      "Half filled: Level book, Race",
      "Not accepted by the office: needs a look",
    ],
  );
});

test("a site without a logger is not asked for its file, and a refused reading is none", () => {
  const site = { ...SITE, structures: [{ id: 7, name: "Flume" }] };
  const refused = { ...read("1", "as_found", 0.2), state: "refused" };
  const said = stillOpen({ visit: visitOf(), site, done: [refused], drafts: [], personId: 1 });
  assert.equal(said[0].words, "Not read as found");
  assert.ok(said.every(({ words }) => !words.includes("Logger")));
});

test("work is told with the staff before and after it; not read stays not read", () => {
  const words = (done, site = SITE) =>
    workWords({ visit: visitOf({ done: ["weed cut"] }), site, done });
  assert.deepEqual(words([read("1", "as_found", 0.25, 0.252), read("2", "as_left", 0.2)]), [
    "weed cut. Staff before 251 mm, after 200 mm, 51 mm lower after it.",
  ]);
  assert.deepEqual(words([read("1", "as_found", 0.25)]), [
    "weed cut. Staff before 250 mm, after not read.",
  ]);
  assert.match(words([read("1", "as_found", 0.25), read("2", "as_left", 0.25)])[0], /unchanged/);
  assert.deepEqual(workWords({ visit: visitOf(), site: SITE, done: [] }), []);
});

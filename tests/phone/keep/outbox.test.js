/** The promise of the outbox: saved on completion, leaves only by its own receipt, never expires. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeDrafts } from "../../../static/field/keep/drafts.js";
import { makeOutbox } from "../../../static/field/keep/outbox.js";
import { makePack } from "../../../static/field/keep/pack.js";
import { makePresence } from "../../../static/field/shell/presence.js";
import { memoryDatabase } from "../memory_database.js";

const DAY = 86400000;
const entry = (id, extra = {}) => ({
  id,
  kind: "head_reading",
  by: 1,
  saved_at: "2026-11-25T09:15:00.000Z",
  body: { note: id },
  ...extra,
});
const sent = (...ids) => new Set(ids);
const stored = (id) => ({ id, state: "stored", notes: [] });

function fresh(start = "2026-11-25T09:00:00Z", options = {}) {
  const memory = memoryDatabase(options);
  const clock = { now: new Date(start) };
  return { memory, clock, outbox: makeOutbox(memory.open, () => clock.now) };
}

test("hold resolves on the transaction's completion, not on the request's success, and is strict", async () => {
  const { memory, outbox } = fresh(undefined, { hang: true });
  let resolved = false;
  const holding = outbox.hold(entry("a")).then(() => (resolved = true));
  while (!memory.opened.length) await new Promise(setImmediate);
  for (let turn = 0; turn < 5; turn += 1) await new Promise(setImmediate); // all requests are done
  assert.equal(resolved, false);
  assert.equal(memory.opened[0].options.durability, "strict");
  memory.opened[0].completeNow();
  await holding;
  assert.equal(resolved, true);
});

test("a transaction that fails is not called saved", async () => {
  const { memory, outbox } = fresh(undefined, { fail: new Error("no space left") });
  await assert.rejects(outbox.hold(entry("a")), /no space left/);
  assert.equal(memory.stores().entries.size, 0);
});

test("the draft goes in the same transaction as the entry comes", async () => {
  const { memory, outbox } = fresh();
  const drafts = makeDrafts(memory.open);
  await drafts.keep("reading:1", { head: "251" }, { href: "/field/reading", title: "x" });
  await outbox.hold(entry("a"), "reading:1");
  assert.equal(await drafts.get("reading:1"), undefined);
  assert.equal(memory.opened.filter((tx) => tx.mode === "readwrite").length, 1);
});

test("holding the same entry twice keeps one; other content under its id is refused", async () => {
  const { outbox } = fresh();
  await outbox.hold(entry("a"));
  await outbox.hold(entry("a", { saved_at: "2026-11-25T09:16:00.000Z" }));
  await assert.rejects(outbox.hold(entry("a", { body: { note: "other" } })), /another entry/);
  const all = await outbox.all();
  assert.equal(all.length, 1);
  assert.equal(all[0].entry.body.note, "a");
});

test("only the signed-in person's entries are given out", async () => {
  const { outbox } = fresh();
  await outbox.hold(entry("a", { by: 1 }));
  await outbox.hold(entry("b", { by: 2 }));
  assert.deepEqual(
    (await outbox.waiting(1)).map((one) => one.id),
    ["a"],
  );
  assert.deepEqual(
    (await outbox.waiting(2)).map((one) => one.id),
    ["b"],
  );
});

test("an entry leaves waiting only on its own receipt", async () => {
  const { outbox } = fresh();
  await outbox.hold(entry("a"));
  await outbox.hold(entry("b"));
  await outbox.hold(entry("c"));
  const strange = [
    { id: "a", state: "perhaps" },
    null,
    { id: "nobody", state: "stored" },
    stored("c"),
    { id: "b", state: "already_held" },
  ];
  assert.deepEqual(await outbox.settle(strange, sent("a", "b"), "e1"), ["b"]);
  assert.deepEqual(
    (await outbox.waiting(1)).map((one) => one.id),
    ["a", "c"],
  );
});

test("a refused entry is kept whole with its reason, and another person's keeps waiting", async () => {
  const { outbox } = fresh();
  await outbox.hold(entry("a"));
  await outbox.hold(entry("b"));
  const refusals = [
    {
      id: "a",
      state: "refused",
      field: "body.staff_m",
      value: "[]",
      rule: "at least one",
      remedy: "Read the staff.",
    },
    {
      id: "b",
      state: "refused",
      field: "by",
      value: "1",
      rule: "entries are sent by their maker",
      remedy: "Sign in.",
    },
  ];
  assert.deepEqual(await outbox.settle(refusals, sent("a", "b"), "e1"), ["a"]);
  const refused = await outbox.get("a");
  assert.equal(refused.state, "refused");
  assert.equal(refused.refusal.remedy, "Read the staff.");
  assert.deepEqual(refused.entry, entry("a"));
  assert.deepEqual(
    (await outbox.waiting(1)).map((one) => one.id),
    ["b"],
  );
});

test("a refused entry can be offered again, or replaced by a right one", async () => {
  const { outbox } = fresh();
  for (const id of ["a", "b"]) await outbox.hold(entry(id));
  const refuse = (id) => ({
    id,
    state: "refused",
    field: "site_id",
    value: "9",
    rule: "no such site",
    remedy: "Refresh.",
  });
  await outbox.settle([refuse("a"), refuse("b")], sent("a", "b"), "e1");
  await outbox.offerAgain("a");
  await outbox.replace("b", entry("c"));
  assert.deepEqual(
    (await outbox.waiting(1)).map((one) => one.id),
    ["a", "c"],
  );
  assert.equal((await outbox.get("b")).replaced_by, "c");
});

test("nothing that waits or is refused ever expires; stored entries stay 30 days", async () => {
  const { outbox, clock } = fresh();
  for (const id of ["a", "b", "c"]) await outbox.hold(entry(id));
  await outbox.settle(
    [stored("a"), { id: "b", state: "refused", field: "x" }],
    sent("a", "b"),
    "e1",
  );
  clock.now = new Date(clock.now.getTime() + 29 * DAY);
  await outbox.tidy();
  assert.equal((await outbox.all()).length, 3);
  clock.now = new Date(clock.now.getTime() + 3000 * DAY);
  await outbox.tidy();
  assert.deepEqual(
    (await outbox.all()).map(({ id, state }) => [id, state]),
    [
      ["b", "refused"],
      ["c", "waiting"],
    ],
  );
});

test("a changed server epoch offers stored entries again, once", async () => {
  const { outbox } = fresh();
  for (const id of ["a", "b"]) await outbox.hold(entry(id));
  await outbox.settle([stored("a"), stored("b")], sent("a", "b"), "e1");
  assert.equal(await outbox.noticeEpoch("e1"), 0);
  assert.equal(await outbox.noticeEpoch("e2"), 2);
  assert.equal((await outbox.waiting(1)).length, 2);
  await outbox.settle([stored("a"), stored("b")], sent("a", "b"), "e2");
  assert.equal(await outbox.noticeEpoch("e2"), 0);
});

test("drafts are written in order and the newest wins", async () => {
  const { memory } = fresh();
  const drafts = makeDrafts(memory.open);
  for (const text of ["2", "25", "251"]) drafts.keep("k", { text }, {});
  await drafts.settle();
  assert.equal((await drafts.get("k")).values.text, "251");
});

test("a refused entry that is put right is replaced, once, and stays readable", async () => {
  const { outbox } = fresh();
  await outbox.hold(entry("a"));
  const refusal = {
    id: "a",
    state: "refused",
    field: "body.note",
    value: "",
    rule: "r",
    remedy: "m",
    notes: [],
  };
  await outbox.settle([refusal], sent("a"), "e1");
  await outbox.replace("a", entry("b"));
  await outbox.replace("a", entry("b"));
  assert.deepEqual(
    (await outbox.all()).map(({ id, state }) => [id, state]),
    [
      ["a", "replaced"],
      ["b", "waiting"],
    ],
  );
  await assert.rejects(outbox.replace("a", entry("c")), /no longer refused/);
  await assert.rejects(outbox.replace("b", entry("c")), /no longer refused/);
  assert.equal((await outbox.all()).length, 2, "nothing is doubled");
});

test("a visit put right keeps its id, and the refused one inside it", async () => {
  const { outbox } = fresh();
  await outbox.hold(entry("v", { kind: "visit" }));
  await outbox.settle(
    [{ id: "v", state: "refused", field: "body.note", value: "", rule: "r", remedy: "m" }],
    sent("v"),
    "e1",
  );
  await outbox.replace("v", entry("v", { kind: "visit", body: { note: "shorter" } }));
  const [record] = await outbox.all();
  assert.deepEqual([record.state, record.entry.body.note], ["waiting", "shorter"]);
  assert.deepEqual(
    [record.refused_before[0].entry.body.note, record.refused_before[0].refusal.rule],
    ["v", "r"],
  );
  assert.deepEqual(
    (await outbox.waiting(1)).map(({ body }) => body.note),
    ["shorter"],
  );
});

test("photos of a refused record follow it to its new id, each as a correction of itself", async () => {
  const { outbox } = fresh();
  const photo = (id, of) => entry(id, { kind: "photo", body: { sha256: id, of } });
  await outbox.hold(entry("a"));
  await outbox.hold(photo("p", "a"));
  await outbox.hold(photo("q", "other"));
  await outbox.settle(
    [
      { id: "a", state: "refused", field: "body.note", value: "", rule: "r", remedy: "m" },
      stored("p"),
    ],
    sent("a", "p"),
    "e1",
  );
  await outbox.replace("a", entry("b"));
  const moved = (await outbox.all()).filter(({ entry: one }) => one.corrects);
  assert.deepEqual(
    moved.map(({ entry: one }) => [
      one.corrects,
      one.body.of,
      one.body.sha256,
      Boolean(one.reason),
    ]),
    [["p", "b", "p", true]],
  );
});

test("an entry of somebody who is not signed in is not held", async () => {
  const memory = memoryDatabase();
  const { mayHold, who } = makePresence(memory.open, makePack(memory.open));
  const outbox = makeOutbox(memory.open, undefined, mayHold);
  await (await memory.open()).put("kept", { person: { id: 2, name: "Tamsin" } }, "pack");
  await assert.rejects(outbox.hold(entry("a", { by: 1 })), /Tamsin is signed in/);
  await outbox.hold(entry("b", { by: 2 }));
  await (await memory.open()).put("kept", { by: 2, pending: true }, "signed_out");
  assert.equal(await who(), null);
  await assert.rejects(outbox.hold(entry("c", { by: 2 })), /nobody is signed in/);
  assert.deepEqual(
    (await outbox.all()).map(({ id }) => id),
    ["b"],
  );
});

test("who is signed in is looked up in the transaction that writes the entry, in no other", async () => {
  const { memory } = fresh();
  await (await memory.open()).put("kept", { person: { id: 1, name: "Ines" } }, "pack");
  const elsewhere = () => assert.fail("read outside the transaction");
  const { mayHold } = makePresence(elsewhere, { read: elsewhere });
  await makeOutbox(memory.open, undefined, mayHold).hold(entry("a"));
  assert.deepEqual(
    memory.opened.map((tx) => [tx.mode, tx.options.durability]),
    [["readwrite", "strict"]],
  );
});

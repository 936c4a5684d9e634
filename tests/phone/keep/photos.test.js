/** Pictures: sent after the records, kept until the office says stored, never lost by a fault. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeOutbox } from "../../../static/field/keep/outbox.js";
import { makePhotos } from "../../../static/field/keep/photos.js";
import { memoryDatabase } from "../memory_database.js";

const SHA = "a".repeat(64);
const entry = (id, kind = "photo") => ({ id, kind, by: 1, body: { sha256: SHA } });
const row = (entry_id, sha256 = SHA) => ({
  sha256,
  bytes: new ArrayBuffer(4),
  by: 1,
  entry_id,
  taken_at: "2026-11-25T00:00:00Z",
  sent_epoch: null,
  problem: null,
  held: true,
});
const good = () =>
  new Response(JSON.stringify({ protocol: 1, state: "stored" }), {
    headers: { "Content-Type": "application/json" },
  });
const refused = () =>
  new Response(JSON.stringify({ rule: "not a picture" }), {
    status: 422,
    headers: { "Content-Type": "application/json" },
  });
const stored = (outbox, id, epoch = "e1") =>
  outbox.settle([{ id, state: "stored", notes: [] }], new Set([id]), epoch);

async function phone() {
  const { open } = memoryDatabase();
  const [outbox, photos] = [makeOutbox(open), makePhotos(open)];
  await photos.keep(row("p1"));
  await outbox.hold(entry("p1"));
  return { outbox, photos };
}

test("a picture waits for the receipt of its entry, then goes once", async () => {
  const { outbox, photos } = await phone();
  const sent = [];
  const put = async (url, { method, body }) => {
    sent.push([url, method, body.byteLength]);
    return good();
  };
  assert.equal(await photos.waiting(await outbox.all()), 1);
  await photos.send(outbox, put, 1);
  assert.deepEqual(sent, []);
  await stored(outbox, "p1");
  await photos.send(outbox, put, 1);
  await photos.send(outbox, put, 1);
  assert.deepEqual(sent, [[`/kept/${SHA}?kind=photo`, "PUT", 4]]);
  assert.equal(await photos.waiting(await outbox.all()), 0);
  assert.ok((await photos.get(SHA)).bytes, "kept for the 30 days that its record is kept");
});

test("a record that waits goes before any picture", async () => {
  const { outbox, photos } = await phone();
  await stored(outbox, "p1");
  await outbox.hold(entry("r1", "head_reading"));
  await photos.send(outbox, async () => assert.fail("a reading waits"), 1);
  assert.equal(await photos.waiting(await outbox.all()), 1);
});

test("no signal: the picture stays and goes later; another person's is not sent", async () => {
  const { outbox, photos } = await phone();
  await stored(outbox, "p1");
  const { why } = await photos.send(
    outbox,
    async () => {
      throw new TypeError("Failed to fetch");
    },
    1,
  );
  assert.match(why, /no signal/);
  assert.equal((await photos.get(SHA)).sent_epoch, null);
  assert.deepEqual(await photos.send(outbox, async () => assert.fail("not hers"), 2), {
    sent: 0,
    why: "",
  });
  assert.equal((await photos.send(outbox, async () => good(), 1)).sent, 1);
});

test("a picture the office cannot read holds up no other", async () => {
  const { outbox, photos } = await phone();
  const other = "b".repeat(64);
  await photos.keep(row("p2", other));
  await outbox.hold(entry("p2"));
  await stored(outbox, "p1");
  await stored(outbox, "p2");
  const { sent } = await photos.send(
    outbox,
    async (url) => (url.includes(SHA) ? refused() : good()),
    1,
  );
  assert.equal(sent, 1);
  assert.match((await photos.get(SHA)).problem, /not a picture/);
});

test("a restored office is given the picture again", async () => {
  const { outbox, photos } = await phone();
  await stored(outbox, "p1");
  await photos.send(outbox, async () => good(), 1);
  await outbox.noticeEpoch("e2");
  await stored(outbox, "p1", "e2");
  assert.equal((await photos.send(outbox, async () => good(), 1)).sent, 1);
});

test("an unsent picture outlives its record; a sent one goes with it", async () => {
  const { outbox, photos } = await phone();
  await photos.tidy([]);
  assert.ok(await photos.get(SHA));
  assert.equal(await photos.waiting([]), 1);
  await stored(outbox, "p1");
  await photos.send(outbox, async () => good(), 1);
  await photos.tidy([]);
  assert.equal(await photos.get(SHA), undefined);
});

test("only the office's own answer counts as stored", async () => {
  const { outbox, photos } = await phone();
  await stored(outbox, "p1");
  const page = new Response("<html>", { headers: { "Content-Type": "text/html" } });
  const other = new Response("{}", { headers: { "Content-Type": "application/json" } });
  for (const answer of [
    page,
    other,
    new Response("", { status: 401 }),
    new Response("", { status: 500 }),
  ]) {
    assert.equal((await photos.send(outbox, async () => answer, 1)).sent, 0);
    assert.equal((await photos.get(SHA)).sent_epoch, null);
  }
});

/** A logger file: its entry, the clock's error, and its bytes on the road after the records. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeOutbox } from "../../../static/field/keep/outbox.js";
import { makePhotos } from "../../../static/field/keep/photos.js";
import { clockFast, firstLines, loggerFileEntry } from "../../../static/field/logger/entry.js";
import { memoryDatabase } from "../memory_database.js";

const SHA = "b".repeat(64);
const NOW = "2026-11-25T00:00:00.000Z"; // 12:00 at a site twelve hours ahead
const place = {
  id: "0190-x",
  site: { id: 1, utc_offset_min: 720 },
  structure: { id: 2 },
  visitId: null,
  personId: 7,
  now: NOW,
};
const picked = { sha256: SHA, name: "tansy.csv", size: 9 };
const typed = (more) => ({ clock_fast: "", serial: "", note: "", ...more });

test("the clock's error is what the logger shows minus the site's time, the short way round", () => {
  assert.equal(clockFast("12:04:00", NOW, 720), 240);
  assert.equal(clockFast("11:59:30", NOW, 720), -30);
  assert.equal(clockFast("0:00:10", "2026-11-25T11:59:50.000Z", 720), 20);
  assert.equal(clockFast("23:59:50", "2026-11-25T12:00:10.000Z", 720), -20);
  assert.equal(clockFast("12:00", NOW, 720), 0);
  for (const text of ["", "25:00", "noon", "12.00"]) assert.equal(clockFast(text, NOW, 720), null);
});

test("an entry names hash, size and clock; a word as a number is refused", () => {
  const { entry } = loggerFileEntry(
    typed({ clock_fast: "-120,5", serial: " INV-1 " }),
    picked,
    place,
  );
  assert.equal(entry.kind, "logger_file");
  assert.deepEqual(entry.body, {
    sha256: SHA,
    name: "tansy.csv",
    size: 9,
    serial: "INV-1",
    downloaded_at: NOW,
    clock_fast_s: -120.5,
    note: "",
  });
  assert.equal(loggerFileEntry(typed(), picked, place).entry.body.clock_fast_s, null);
  assert.match(loggerFileEntry(typed({ clock_fast: "fast" }), picked, place).problem, /seconds/);
  assert.match(loggerFileEntry(typed(), null, place).problem, /file/);
});

test("first lines are read in either encoding", () => {
  assert.deepEqual(firstLines(new TextEncoder().encode("a;b\r\n\r\n1;2\n").buffer), ["a;b", "1;2"]);
  const wide = new Uint8Array([
    0xff,
    0xfe,
    ...[..."t,h\n1,2"].flatMap((c) => [c.charCodeAt(0), 0]),
  ]);
  assert.deepEqual(firstLines(wide.buffer), ["t,h", "1,2"]);
});

test("the bytes follow their entry, as a logger file with its name", async () => {
  const { open } = memoryDatabase();
  const [outbox, files] = [makeOutbox(open), makePhotos(open)];
  const { entry } = loggerFileEntry(typed(), picked, place);
  await files.keep({
    sha256: SHA,
    bytes: new ArrayBuffer(9),
    name: "tansy hollow.csv",
    kind: "logger_file",
    by: 7,
    entry_id: entry.id,
    taken_at: NOW,
    sent_epoch: null,
    problem: null,
    held: true,
  });
  await outbox.hold(entry);
  const sent = [];
  const put = async (url, { headers }) => {
    sent.push([url, headers["Content-Type"]]);
    return new Response(JSON.stringify({ protocol: 1, state: "stored" }), {
      headers: { "Content-Type": "application/json" },
    });
  };
  await files.send(outbox, put, 7);
  assert.deepEqual(sent, [], "not before its entry is at the office");
  await outbox.settle([{ id: entry.id, state: "stored", notes: [] }], new Set([entry.id]), "e1");
  await files.send(outbox, put, 7);
  assert.deepEqual(sent, [
    [`/kept/${SHA}?kind=logger_file&name=tansy%20hollow.csv`, "application/octet-stream"],
  ]);
});

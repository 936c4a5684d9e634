/** The file of the outbox: what the office lacks, with the bytes of pictures and logger files. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { base64Parts, fileParts } from "../../../static/field/keep/outbox_file.js";

const record = (id, state = "waiting", extra = {}) => ({
  id,
  state,
  entry: { id, kind: "photo", by: 1, body: { sha256: id } },
  ...extra,
});
const row = (entry_id, extra = {}) => ({
  sha256: entry_id,
  bytes: new Uint8Array([255, 216, 0, 7]).buffer,
  by: 1,
  entry_id,
  sent_epoch: null,
  problem: null,
  held: true,
  ...extra,
});
const read = (records, rows, phone = "p") => JSON.parse(fileParts(records, rows, phone).join(""));

test("it holds what is not at the office, of everybody on this phone", () => {
  const file = read(
    [
      record("a", "stored", { epoch: "e" }),
      record("b"),
      record("c", "refused"),
      record("d", "replaced"),
    ],
    [],
  );
  assert.deepEqual(
    [file.sillbook_outbox, file.phone, file.entries.map(({ id }) => id), file.files],
    [1, "p", ["b", "c"], []],
  );
});

test("pictures and logger files travel with their bytes", () => {
  const rows = [row("b"), row("l", { kind: "logger_file", name: 'a "log".csv', by: 2 })];
  const { files } = read([record("b"), record("l")], rows);
  assert.deepEqual(
    files.map(({ sha256, kind, name, by }) => [sha256, kind, name, by]),
    [
      ["b", "photo", "", 1],
      ["l", "logger_file", 'a "log".csv', 2],
    ],
  );
  assert.deepEqual([...Buffer.from(files[0].base64, "base64")], [255, 216, 0, 7]);
});

test("a picture whose record is stored but which itself was never sent is in it; a sent one is not", () => {
  const records = [
    record("a", "stored", { epoch: "e1" }),
    record("b", "stored", { epoch: "e1" }),
    record("c", "stored", { epoch: "e2" }),
  ];
  const rows = [
    row("a"),
    row("b", { sent_epoch: "e1" }),
    row("c", { sent_epoch: "e1" }),
    row("gone"),
    row("never", { held: false }),
  ];
  const { entries, files } = read(records, rows);
  assert.deepEqual([entries.length, files.map(({ sha256 }) => sha256)], [0, ["a", "c", "gone"]]);
});

test("base64 in parts is the base64 of the whole, whatever the length", () => {
  for (const length of [0, 1, 2, 3, 24575, 24576, 24577, 100001]) {
    const bytes = Uint8Array.from({ length }, (_, i) => (i * 31) % 256);
    assert.equal(base64Parts(bytes.buffer).join(""), Buffer.from(bytes).toString("base64"));
  }
});

/**
 * Everything that is not at the office, as the file that `sillbook import-outbox` reads: the
 * entries, and the bytes of the pictures and logger files that they name.
 */

import { el } from "../../shared/dom.js";
import { openFieldDatabase } from "./database.js";
import { isUnsent } from "./photos.js";

const SLICE = 0x6000; // a multiple of three, so that the parts of base64 join without padding

/** Base64 in parts: a logger file of 64 MB would not go through one string. */
export function base64Parts(bytes) {
  const all = new Uint8Array(bytes);
  const parts = [];
  for (let at = 0; at < all.length; at += SLICE)
    parts.push(btoa(String.fromCharCode(...all.subarray(at, at + SLICE))));
  return parts;
}

/** The text of the file in parts; `rows` are those of the store "photos". */
export function fileParts(records, rows, phone = null) {
  const unsent = records.filter(({ state }) => state === "waiting" || state === "refused");
  const parts = [
    `{"sillbook_outbox": 1, "phone": ${JSON.stringify(phone)},\n"entries": ${JSON.stringify(
      unsent.map(({ entry }) => entry),
      null,
      1,
    )},\n"files": [`,
  ];
  rows
    .filter((row) => isUnsent(row, records))
    .forEach(({ sha256, kind = "photo", name = "", by, bytes }, i) => {
      parts.push(
        `${i ? "," : ""}\n${JSON.stringify({ sha256, kind, name, by }).slice(0, -1)}, "base64": "`,
        ...base64Parts(bytes),
        '"}',
      );
    });
  parts.push("\n]}\n");
  return parts;
}

function download(name, parts) {
  const url = URL.createObjectURL(new Blob(parts, { type: "application/json" }));
  const link = el("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

export async function saveToFile(context) {
  const db = await openFieldDatabase();
  const parts = fileParts(
    await context.outbox.all(),
    await db.getAll("photos"),
    (await db.get("kept", "phone")) ?? null,
  );
  download(
    `sillbook-outbox-${new Date().toISOString().slice(0, 16).replace(/[:T]/g, "")}.json`,
    parts,
  );
}

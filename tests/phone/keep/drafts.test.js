/** Drafts of two people. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeDrafts, ownKey } from "../../../static/field/keep/drafts.js";
import { memoryDatabase } from "../memory_database.js";

test("two people's drafts of one form stand side by side", async () => {
  const memory = memoryDatabase();
  const drafts = makeDrafts(memory.open);
  for (const by of [1, 2]) {
    await drafts.keep(
      ownKey("reading:1:alone:during", by),
      { text: String(by) },
      { bare: "reading:1:alone:during", by, by_name: `P${by}`, href: "/", title: "t" },
    );
    await drafts.settle();
  }
  assert.equal((await drafts.all()).length, 2);
  assert.equal((await drafts.get(ownKey("reading:1:alone:during", 1))).values.text, "1");
});

import assert from "node:assert/strict";
import test from "node:test";
import { COUNTDOWN, isCounting } from "../../../static/field/base/counting.js";

test("a count is known by its key; blocked storage holds none", () => {
  const held = new Map();
  const storage = { getItem: (key) => held.get(key) ?? null };
  assert.equal(isCounting(storage), false);
  held.set(COUNTDOWN, "{}");
  assert.equal(isCounting(storage), true);
  const blocked = {
    getItem() {
      throw new Error("blocked");
    },
  };
  assert.equal(isCounting(blocked), false);
});

/** Ids of entries (RFC 9562). */
import assert from "node:assert/strict";
import { test } from "node:test";
import { makeUuid7 } from "../../../static/field/base/uuid7.js";

test("ids are version 7, variant 10, and sort in the order of making (RFC 9562)", () => {
  let time = 1764062100000;
  const next = makeUuid7(() => time);
  const ids = [];
  for (let i = 0; i < 6000; i++) {
    if (i % 5500 === 0) time += 1;
    if (i === 100) time -= 50; // a clock set back must not turn the order round
    ids.push(next());
  }
  for (const id of ids.slice(0, 50))
    assert.match(id, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.deepEqual(ids, [...ids].sort());
  assert.equal(new Set(ids).size, ids.length);
  assert.equal(
    parseInt(
      makeUuid7(() => 1645557742000)()
        .slice(0, 13)
        .replace("-", ""),
      16,
    ),
    1645557742000,
  );
});

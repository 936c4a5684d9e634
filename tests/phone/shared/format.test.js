/** Figures, times and discharges in words, as the office words them. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import {
  discharge,
  dischargeLine,
  fromLocalBox,
  offsetWords,
  siteTime,
  toLocalBox,
} from "../../../static/shared/format.js";

test("a discharge is rounded to two figures of its uncertainty", () => {
  assert.deepEqual(discharge(0.11063, 4.3), {
    value: "110.6",
    unit: "L/s",
    plusMinus: "4.8",
    pct: "4.3",
  });
  assert.equal(dischargeLine(1.2345, 12), "1.23 m\u00b3/s \u00b1 0.15 (12 %)");
  assert.equal(dischargeLine(null, null), "no discharge");
});

test("site time is a fixed offset both ways, across midnight", () => {
  assert.equal(siteTime("2026-11-25T14:30:00.000Z", 720), "2026-11-26 02:30");
  assert.equal(toLocalBox("2026-11-25T01:30:00.000Z", -210), "2026-11-24T22:00");
  assert.equal(fromLocalBox("2026-11-24T22:00", -210), "2026-11-25T01:30:00.000Z");
  assert.equal(fromLocalBox("", 0), null);
  assert.equal(offsetWords(-210), "UTC\u221203:30");
});

test("a discharge is worded as the office words it, to the last digit", () => {
  const cases = JSON.parse(
    readFileSync(new URL("../../tables/words_vectors.json", import.meta.url)),
  );
  for (const [flow, pct, line] of cases)
    assert.equal(dischargeLine(flow, pct), line, `${flow} ${pct}`);
});

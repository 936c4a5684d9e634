/** Figures, times and discharges in words, as the office words them. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  discharge,
  dischargeLine,
  fromLocalBox,
  offsetWords,
  siteTime,
  toLocalBox,
} from "../../../static/shared/format.js";
import { runVectors } from "../vectors.js";

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

runVectors("words_vectors.json", {
  discharge: ({ discharge_m3s, uncertainty_pct }) => dischargeLine(discharge_m3s, uncertainty_pct),
});

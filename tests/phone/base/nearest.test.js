/** Sites by distance, or by the last reading. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { distanceM, order } from "../../../static/field/base/nearest.js";

test("distance on the sphere: one degree of latitude is 111.2 km", () => {
  assert.ok(
    Math.abs(distanceM({ latitude: 0, longitude: 0 }, { latitude: 1, longitude: 0 }) - 111195) < 50,
  );
});

test("nearest first with a position, most recently read without", () => {
  const sites = [
    { name: "far", latitude: 2, longitude: 0, last_reading_at: "2026-11-25T00:00:00Z" },
    { name: "near", latitude: 1, longitude: 0, last_reading_at: null },
    { name: "nowhere", latitude: null, longitude: null, last_reading_at: "2026-11-24T00:00:00Z" },
  ];
  assert.deepEqual(
    order(sites, { latitude: 0, longitude: 0 }).map(({ site }) => site.name),
    ["near", "far", "nowhere"],
  );
  assert.deepEqual(
    order(sites, null).map(({ site }) => site.name),
    ["far", "nowhere", "near"],
  );
});

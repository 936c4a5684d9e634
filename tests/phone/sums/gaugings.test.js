/** The phone's gauging sums against published figures and against the server, by shared vectors. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as sums from "../../../static/field/sums/gaugings.js";
import { meanAndError, twoSided } from "../../../static/field/sums/statistics.js";
import { runVectors } from "../vectors.js";

runVectors("gaugings_vectors.json", {
  volumetric: sums.volumetric,
  float_gauging: sums.floatGauging,
  known_gauging: sums.knownGauging,
  mean_head: sums.meanHead,
  mean_and_error: ({ values }) => meanAndError(values),
  verdict: sums.verdict,
  velocity_area: sums.velocityArea,
  mean_velocity: ({ row }) => sums.meanVelocity(row),
  meter_velocity: sums.meterVelocity,
  gulp: sums.gulp,
  constant_rate: sums.constantRate,
  calibration_factor: sums.calibrationFactor,
  salt_mass_kg: sums.saltMassKg,
});

// Percentage points of Student's t as every handbook table prints them (from memory).
for (const [dof, wanted] of [
  [1, 12.706],
  [2, 4.303],
  [3, 3.182],
  [4, 2.776],
  [7, 2.365],
  [10, 2.228],
  [30, 2.042],
]) {
  test(`Student's t for ${dof} degrees`, () => assert.ok(Math.abs(twoSided(dof) - wanted) < 6e-4));
}

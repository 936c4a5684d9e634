/**
 * The phone's preview against the server's ratings, by shared vectors; and against the published
 * 1 ft Parshall equation Q = 0.6909 ha^1.522 (ISO 9826 / Parshall 1936 in SI) where noted.
 */
import assert from "node:assert/strict";
import { test } from "node:test";
import { interpolate, previewFlow } from "../../../static/field/sums/preview.js";
import { casesOf } from "../vectors.js";

const devices = casesOf("preview_vectors.json").map(({ name, args, result }) => ({
  name,
  family: args.family,
  table: args.table,
  cases: args.readings.map((reading, i) => ({ ...reading, expected: result[i] })),
}));
/** What the server knows of a device and the table does not carry. */
const SERVER_ONLY = new Set([
  "approach too fast",
  "geometry outside limits",
  "outside ISO limits",
  "outside Bos limits",
  "no critical control",
  "ISO extended range, 2 % added",
  "control section undefined at this head",
]);
const near = (got, wanted, share, words) =>
  assert.ok(
    Math.abs(got - wanted) <= share * Math.abs(wanted),
    `${words}: ${got} is not ${wanted}`,
  );

for (const { name, table, cases } of devices) {
  const first = table.heads_m[0];
  const last = table.heads_m.at(-1);
  const wet = cases.filter(({ head_m }) => head_m > table.cease_to_flow_m);

  test(`${name}: discharge within 0.05 % of the server's, same flow word and flags`, () => {
    let compared = 0;
    for (const one of cases) {
      const { expected, ...reading } = one;
      const words = JSON.stringify(reading);
      const got = previewFlow(table, reading);
      const outside =
        reading.head_m > table.cease_to_flow_m &&
        (reading.head_m < first || (reading.head_m > last && reading.head_m <= table.head_limit_m));
      if (outside) {
        assert.equal(got.discharge_m3s, null, `never extrapolates: ${words}`);
        assert.ok(got.note);
        continue;
      }
      assert.equal(got.flow, expected.flow, words);
      assert.deepEqual(
        new Set(got.flags),
        new Set(expected.flags.filter((flag) => !SERVER_ONLY.has(flag))),
        words,
      );
      if (expected.discharge_m3s === null) assert.equal(got.discharge_m3s, null, words);
      else {
        near(got.discharge_m3s, expected.discharge_m3s, 5e-4, words);
        near(got.uncertainty_pct, expected.uncertainty_pct, 0.02, `uncertainty, ${words}`);
        compared += 1;
      }
    }
    assert.ok(compared > 40, `${compared} compared`);
  });

  test(`${name}: more tailwater never gives more flow, more head never less`, () => {
    const flows = wet
      .filter(({ tailwater_m }) => tailwater_m === null)
      .map(({ head_m }) => head_m)
      .sort((a, b) => a - b);
    const free = flows.map((head_m) => interpolate(table, head_m)?.discharge_m3s).filter(Boolean);
    assert.deepEqual(
      free,
      [...free].sort((a, b) => a - b),
    );
    const head_m = flows[Math.floor(flows.length / 2)];
    let before = Infinity;
    for (let ratio = 0; ratio <= 1; ratio += 0.005) {
      const flow = previewFlow(table, {
        head_m,
        tailwater_m: ratio * head_m,
        headUncertainty_m: 0.001,
      }).discharge_m3s;
      if (flow === null) break;
      assert.ok(flow <= before + 1e-12, `ratio ${ratio}`);
      before = flow;
    }
  });
}

test("1 ft Parshall at 0.15 m: 0.0385 m3/s within 0.3 % (published equation)", () => {
  const { table } = devices.find(({ family }) => family === "parshall");
  near(interpolate(table, 0.15).discharge_m3s, 0.6909 * 0.15 ** 1.522, 3e-3, "discharge");
});

test("the uncertainty is the root of the squares of its parts", () => {
  const { table } = devices[0];
  const got = previewFlow(table, { head_m: 0.15, headUncertainty_m: 0.003 });
  const { device_pct, exponent } = interpolate(table, 0.15);
  near(
    got.uncertainty_pct,
    Math.hypot(device_pct, (exponent * 100 * 0.003) / 0.15),
    1e-12,
    "uncertainty",
  );
  const wider = previewFlow(table, { head_m: 0.15, headUncertainty_m: 0.006 });
  assert.ok(wider.uncertainty_pct > got.uncertainty_pct);
});

/** Figures that nobody measures at a flume. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { oddFigure } from "../../../static/field/typed/figure_limits.js";

test("figures that nobody measures at a flume are asked about once, others never", () => {
  const vertical = (more) => ({
    verticals: [
      { distance_m: "1.2", depth_m: "0.4", points: { v06: { velocity_ms: "0.5" } }, ...more },
    ],
  });
  const ask = (observed, kept = []) => oddFigure(observed, kept);
  assert.equal(ask(vertical({})), null);
  const deep = ask(vertical({ depth_m: "15" }));
  assert.deepEqual(
    [deep.question, deep.offers[0]],
    ["Depth 15 m?", { text: "1.5", words: "1.5 m?" }],
  );
  assert.equal(ask(vertical({ depth_m: "15" }), [deep.key]), null);
  assert.ok(ask(vertical({ distance_m: "15" }), [deep.key]) === null);
  assert.deepEqual(
    ask(vertical({ points: { v06: { velocity_ms: "25" } } })).offers.map(({ text }) => text),
    ["2.5", "0.025"],
  );
  assert.equal(ask({ width_m: "300", depths_m: ["0,3"] }).question, "Width 300 m?");
  assert.equal(ask({ fills: [{ volume_l: "20", time_s: "0" }] }).question, "Time 0 s?");
  assert.deepEqual(ask({ fills: [{ volume_l: "20", time_s: "0" }] }).offers, []);
  assert.equal(ask({ fills: [{ volume_l: "20000", time_s: "8.3" }] }).offers[0].text, "2000");
  assert.equal(ask({ time_s: [0, 5, 1e5], depth_m: "deep", width_m: "" }), null);
});

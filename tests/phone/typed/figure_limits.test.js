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

test("a decimal sign one place off is asked about against the others of its column", () => {
  const verticals = (...depths) => ({ verticals: depths.map((depth_m) => ({ depth_m })) });
  const odd = oddFigure(verticals("0", "0.30", "3.2", "0.34", "0.31", "0"), []);
  assert.equal(odd.question, "Depth 3.2 m?");
  assert.equal(odd.offers[0].words, "0.32 m?");
  assert.equal(oddFigure(verticals("0", "0.30", "3.2", "0.34", "0.31"), [odd.key]), null);
  assert.equal(oddFigure(verticals("0.03", "0.30", "0.32", "0.34", "0.31"), []), null, "a bank");
  assert.equal(oddFigure(verticals("0.30", "3.2", "0.34"), []), null, "too few to tell");
  const fills = (...times) => ({ fills: times.map((time_s) => ({ volume_l: "10", time_s })) });
  assert.equal(oddFigure(fills("5.1", "0.52", "5.2", "5.0"), []).offers[0].words, "5.2 s?");
  assert.equal(oddFigure(fills("5.1", "9.9", "5.2", "5.0"), []), null, "scatter is not a slip");
});

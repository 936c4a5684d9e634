/** Figures and columns as typed, by the vectors that the server reads too. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { columnOf, decimalSign, typedFigure } from "../../../static/field/typed/number_words.js";
import { parseNumber, possible } from "../../../static/shared/numbers.js";

const table = JSON.parse(readFileSync(new URL("../../tables/typed_vectors.json", import.meta.url)));

test("columns are decided as on the server", () => {
  for (const { texts, sign, values } of table.columns) {
    assert.equal(decimalSign(texts), sign, texts.join(" "));
    assert.deepEqual(columnOf(texts), values, texts.join(" "));
  }
});

test("limits decide between two meanings, else it is asked", () => {
  assert.deepEqual(possible("1.251", { high: 10 }), [1.251]);
  assert.deepEqual(possible("6,000", { low: 100 }), [6000]);
  assert.equal(parseNumber("6,000"), null);
  assert.equal(typedFigure("vertical 3 depth_m", "1.250"), 1.25);
  assert.equal(typedFigure("times_s 2", "12.5"), 12.5);
  assert.throws(
    () => typedFigure("mass_g", "1,500"),
    (error) => error.rule === "it can be 1.5 or 1500" && /1\.5 or 1500/.test(error.remedy),
  );
});

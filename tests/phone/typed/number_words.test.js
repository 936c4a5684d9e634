/** Figures and columns as typed, by the vectors that the server reads too. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { columnOf, decimalSign, typedFigure } from "../../../static/field/typed/number_words.js";
import { meanings, parseNumber, possible, spelled } from "../../../static/shared/numbers.js";
import { runVectors } from "../vectors.js";

runVectors("typed_vectors.json", {
  meanings: ({ text }) => meanings(text),
  column: ({ texts }) => ({ sign: decimalSign(texts), values: columnOf(texts) }),
  spelled: ({ value }) => spelled(value),
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

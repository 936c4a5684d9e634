/** Typed numbers on the phone, by the vectors that the server reads too. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { dischargeLine } from "../../static/field/format.js";
import { columnOf, decimalSign, typedFigure } from "../../static/field/number_words.js";
import { meanings, parseNumber, possible, spelled } from "../../static/field/numbers.js";

const table = JSON.parse(readFileSync(new URL("../tables/typed_vectors.json", import.meta.url)));

test("spellings mean what they mean on the server", () => {
  for (const { text, values } of table.meanings) assert.deepEqual(meanings(text), values, JSON.stringify(text));
  for (const { value, text } of table.spelled) {
    assert.equal(spelled(value), text);
    assert.equal(parseNumber(text), value);
  }
});

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
  assert.throws(() => typedFigure("mass_g", "1,500"), (error) => error.rule === "it can be 1.5 or 1500" && /1\.5 or 1500/.test(error.remedy));
});

test("a discharge is worded as the office words it, to the last digit", () => {
  const cases = JSON.parse(readFileSync(new URL("../tables/words_vectors.json", import.meta.url)));
  for (const [flow, pct, line] of cases) assert.equal(dischargeLine(flow, pct), line, `${flow} ${pct}`);
});

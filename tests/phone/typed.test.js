/** Typed numbers on the phone, by the vectors that the server reads too. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { clockWords } from "../../static/field/base/clock_words.js";
import { dimensionBody } from "../../static/field/install/as_built.js";
import { slip } from "../../static/field/typed/dimension_slip.js";
import { columnOf, decimalSign, typedFigure } from "../../static/field/typed/number_words.js";
import { dischargeLine } from "../../static/shared/format.js";
import { meanings, parseNumber, possible, spelled } from "../../static/shared/numbers.js";

const table = JSON.parse(readFileSync(new URL("../tables/typed_vectors.json", import.meta.url)));

test("spellings mean what they mean on the server", () => {
  for (const { text, values } of table.meanings)
    assert.deepEqual(meanings(text), values, JSON.stringify(text));
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
  assert.throws(
    () => typedFigure("mass_g", "1,500"),
    (error) => error.rule === "it can be 1.5 or 1500" && /1\.5 or 1500/.test(error.remedy),
  );
});

test("a discharge is worded as the office words it, to the last digit", () => {
  const cases = JSON.parse(readFileSync(new URL("../tables/words_vectors.json", import.meta.url)));
  for (const [flow, pct, line] of cases)
    assert.equal(dischargeLine(flow, pct), line, `${flow} ${pct}`);
});

test("a clock that is a day and more off is wrong, not slow", () => {
  assert.equal(clockWords(95), "1 min 35 s fast");
  assert.equal(clockWords(-3660), "1 h 1 min slow");
  assert.match(clockWords(-1795669441), /^wrong: 56 years/);
});

test("a dimension unlike its named value is asked about once", () => {
  const named = [{ key: "W", label: "Throat", named_m: 0.3048 }];
  const asked = (text, sure) => dimensionBody({ W: text }, named, "tape", sure);
  for (const text of ["0.305", "30.5", "3050", "12", "1"])
    assert.equal(asked(text).body, null, text);
  assert.deepEqual(asked("0.305").asked.answers, ["305", "0.305"]);
  assert.deepEqual(asked("12").asked.answers, ["304.8", "12"]);
  assert.deepEqual(asked("305 304.5").body.dimensions[0].measured_m, [0.305, 0.3045]);
  const kept = asked("250", ["250"]);
  assert.deepEqual(kept.body.as_typed, ["250"]);
  assert.equal(asked("250").asked.answers.length, 1);
  assert.deepEqual(
    [slip(0.305, 304.8), slip(305, 304.8), slip(250, 304.8)].map((v) => v && Math.round(v)),
    [305, 305, null],
  );
});

test("a dimension of two meanings is settled by its named value, or asked with it", () => {
  const named = [{ key: "b", label: "Throat", named_m: 1.2192 }];
  const read = (text) => dimensionBody({ b: text }, named, "tape");
  for (const text of ["1,251", "1.251"])
    assert.deepEqual(read(text).body.dimensions[0].measured_m, [1.251]);
  assert.deepEqual(read("2,502").asked.answers, ["2.5020", "2502"]);
  assert.deepEqual(read("12,190").asked.answers, ["1219", "12.19", "12190"]);
  assert.match(read("12,190").problem, /1219.2 mm/);
});

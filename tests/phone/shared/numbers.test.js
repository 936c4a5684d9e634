/** Numbers as people write them: the same on the phone and on the server. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { lengthText, parseNumber, toMetres } from "../../../static/shared/numbers.js";

test("decimal comma and point are the same; what is no number is none", () => {
  assert.equal(parseNumber("0,251"), 0.251);
  assert.equal(parseNumber(" 0.251 "), 0.251);
  assert.equal(parseNumber("\u22125"), -5);
  assert.equal(parseNumber(",5"), 0.5);
  for (const text of ["", "1,234", "0.25.1", "abc", "12,34.5", "-", "."])
    assert.equal(parseNumber(text), null, text);
});

test("millimetres become metres without a rounding tail", () => {
  assert.equal(toMetres(251, "mm"), 0.251);
  assert.equal(lengthText(0.2505, "m"), "0.2505 m");
  assert.equal(lengthText(0.251, "m"), "0.251 m");
  assert.equal(lengthText(0.2505, "mm"), "250.5 mm");
});

/** Every kind of entry has its form on the phone. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { KINDS, kindWords } from "../../../static/field/base/kinds.js";

test("every kind that the office knows has a form on the phone, withdrawals aside", () => {
  const text =
    readFileSync(new URL("../../../app/services/entries/kinds.py", import.meta.url), "utf8") +
    readFileSync(
      new URL("../../../app/services/entries/bodies/survey.py", import.meta.url),
      "utf8",
    );
  const tables = [
    ...text.matchAll(/(?:SURVEY_)?BODIES: dict\[str, type\[Strict\]\] = \{([^}]*)\}/g),
  ]
    .map((found) => found[1])
    .join("");
  const kinds = [...tables.matchAll(/"(\w+)":/g)]
    .map((found) => found[1])
    .filter((kind) => kind !== "withdrawal");
  assert.ok(kinds.length >= 11, kinds.join());
  for (const kind of kinds) assert.ok(KINDS[kind]?.page, kind);
  assert.equal(kindWords("ice_survey"), "Ice survey");
});

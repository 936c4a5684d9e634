/** Install sums on the phone equal the server's to 1e-9; see tests/vectors/install.py. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { movedMarks } from "../../../static/field/levels/marks.js";
import * as sums from "../../../static/field/sums/install.js";
import { BadInput } from "../../../static/shared/bad_input.js";

const { cases } = JSON.parse(
  readFileSync(new URL("../../tables/install_vectors.json", import.meta.url)),
);
const calls = { ...sums, movedMarks };

function near(got, wanted, where) {
  if (typeof wanted === "number" && typeof got === "number") {
    assert.ok(
      Math.abs(got - wanted) <= 1e-9 * Math.max(1, Math.abs(wanted)),
      `${where}: ${got} is not ${wanted}`,
    );
  } else if (wanted !== null && typeof wanted === "object") {
    assert.deepEqual(Object.keys(got).sort(), Object.keys(wanted).sort(), where);
    for (const key of Object.keys(wanted)) near(got[key], wanted[key], `${where}.${key}`);
  } else assert.equal(got, wanted, where);
}

cases.forEach(({ call, args, result, error }, i) => {
  test(`${i} ${call}`, () => {
    if (error) {
      assert.throws(
        () => calls[call](args),
        (thrown) => {
          assert.ok(thrown instanceof BadInput, String(thrown));
          assert.deepEqual({ field: thrown.field, rule: thrown.rule }, error);
          assert.ok(thrown.remedy);
          return true;
        },
      );
    } else near(calls[call](args), result, call);
  });
});

test("every sum has a vector", () => {
  const named = new Set(cases.map(({ call }) => call));
  for (const [name, value] of Object.entries(calls)) {
    if (typeof value === "function" && name !== "wetConcreteUplift")
      assert.ok(named.has(name), name);
  }
});

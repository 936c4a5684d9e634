/** Runs a file of shared vectors against the phone's functions. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

const at = (value, path) =>
  path === "" ? value : path.split(".").reduce((part, key) => part[key], value);

/** Same shape, same words, numbers within the tolerance. */
function same(got, wanted, tolerance, where) {
  if (typeof wanted === "number") {
    assert.equal(typeof got, "number", `${where} is ${got}`);
    assert.ok(
      Math.abs(got - wanted) <= tolerance * Math.max(1e-3, Math.abs(wanted)),
      `${where}: ${got} is not ${wanted}`,
    );
  } else if (wanted !== null && typeof wanted === "object") {
    assert.deepEqual(Object.keys(got).sort(), Object.keys(wanted).sort(), where);
    for (const key of Object.keys(wanted))
      same(got[key], wanted[key], tolerance, `${where}.${key}`);
  } else assert.equal(got, wanted, where);
}

/** The cases of a file; the one way in which tests of the phone read shared vectors. */
export const casesOf = (file) =>
  JSON.parse(readFileSync(new URL(`../tables/${file}`, import.meta.url), "utf8")).cases;

export function runVectors(file, calls) {
  const cases = casesOf(file);
  for (const { name, call, args, result, error, published = {}, tolerance } of cases) {
    test(`${file}: ${name}`, () => {
      if (error) {
        assert.throws(
          () => calls[call](args),
          (thrown) => {
            assert.equal(thrown.name, "BadInput", thrown.stack);
            assert.deepEqual({ field: thrown.field, rule: thrown.rule }, error);
            assert.ok(thrown.remedy.length > 5);
            return true;
          },
        );
        return;
      }
      const got = calls[call](args);
      same(got, result, 1e-9, call);
      for (const [path, wanted] of Object.entries(published))
        same(at(got, path), wanted, tolerance, path);
    });
  }
  test(`${file}: every call is the phone's own`, () => {
    assert.deepEqual(Object.keys(calls).sort(), [...new Set(cases.map((one) => one.call))].sort());
  });
}

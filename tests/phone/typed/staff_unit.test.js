import assert from "node:assert/strict";
import test from "node:test";
import { nextUnit, rememberUnit, unitOf } from "../../../static/field/typed/staff_unit.js";

function storage() {
  const held = new Map();
  return {
    getItem: (key) => held.get(key) ?? null,
    setItem: (key, value) => held.set(key, String(value)),
  };
}

test("a staff in centimetres is remembered for its site alone", () => {
  const kept = storage();
  const [tansy, marrow] = [
    { id: 1, head_unit: "mm" },
    { id: 2, head_unit: "m" },
  ];
  rememberUnit(tansy, nextUnit("mm"), kept);
  assert.equal(unitOf(tansy, kept), "cm");
  assert.equal(unitOf(marrow, kept), "m");
});

test("what the office says later counts again", () => {
  const kept = storage();
  rememberUnit({ id: 1, head_unit: "mm" }, "cm", kept);
  assert.equal(unitOf({ id: 1, head_unit: "m" }, kept), "m");
});

test("blocked or spoilt storage leaves the unit of the office", () => {
  const blocked = {
    getItem() {
      throw new Error("blocked");
    },
    setItem() {
      throw new Error("blocked");
    },
  };
  const site = { id: 1, head_unit: "mm" };
  rememberUnit(site, "m", blocked);
  assert.equal(unitOf(site, blocked), "mm");
  const spoilt = storage();
  spoilt.setItem("sillbook-staff-unit-1", "mm furlong");
  assert.equal(unitOf(site, spoilt), "mm");
});

test("the units come round", () => {
  assert.deepEqual(["mm", "cm", "m"].map(nextUnit), ["cm", "m", "mm"]);
});

/** Which instruments a phone offers, and what it says of them: twins of the register's words. */
import assert from "node:assert/strict";
import test from "node:test";

import {
  calibrationWords,
  isInDate,
  offered,
  remember,
  remembered,
} from "../../../static/field/base/instruments.js";

const one = (id, kind, name, more = {}) => ({
  id,
  kind,
  name,
  site_id: null,
  calibration: "in date",
  due_on: "2026-12-01",
  ...more,
});
const PACK = {
  made_with: { level_run: ["level", "other"] },
  instruments: [
    one(1, "current_meter", "Meter"),
    one(2, "level", "Old level", { calibration: "overdue", due_on: "2026-05-01" }),
    one(3, "level", "A level elsewhere"),
    one(4, "level", "Z level here", { site_id: 3 }),
  ],
};

test("fitting kinds first, those at the site before others", () => {
  const { fitting, others } = offered(PACK, "level_run", 3);
  assert.deepEqual(
    fitting.map(({ id }) => id),
    [4, 3, 2],
  );
  assert.deepEqual(
    others.map(({ id }) => id),
    [1],
  );
  assert.equal(offered(PACK, "float", 3).others.length, 0);
  assert.deepEqual(offered({}, "level_run", 3), { fitting: [], others: [] });
});

test("what the pack called in date is overdue after its day; unknown is never fine", () => {
  assert.equal(
    calibrationWords(one(1, "level", "x"), "2026-12-01"),
    "in date, next due 2026-12-01",
  );
  assert.equal(calibrationWords(one(1, "level", "x"), "2026-12-02"), "overdue: was due 2026-12-01");
  assert.equal(calibrationWords(PACK.instruments[1], "2026-11-25"), "overdue: was due 2026-05-01");
  const unknown = one(1, "level", "x", { calibration: "unknown", due_on: null });
  assert.equal(calibrationWords(unknown, "2026-11-25"), "calibration unknown");
  assert.equal(isInDate(unknown, "2026-11-25"), false);
  const unfit = one(1, "level", "x", { calibration: "not fit for use", due_on: null });
  assert.equal(calibrationWords(unfit, "2026-11-25"), "not fit for use");
});

test("the one chosen last is offered again, by what is observed, while the register has it", () => {
  const held = new Map();
  const store = {
    getItem: (key) => held.get(key) ?? null,
    setItem: (key, value) => held.set(key, value),
  };
  remember("level_run", "4", store);
  assert.equal(remembered(PACK, "level_run", store), "4");
  assert.equal(remembered(PACK, "float", store), "");
  assert.equal(remembered({ ...PACK, instruments: [] }, "level_run", store), "");
  const closed = {
    getItem() {
      throw new Error("closed");
    },
    setItem() {
      throw new Error("closed");
    },
  };
  remember("level_run", "4", closed);
  assert.equal(remembered(PACK, "level_run", closed), "");
});

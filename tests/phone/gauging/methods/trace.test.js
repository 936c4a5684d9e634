/** A trace read from text. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { nextLine, readTrace } from "../../../../static/field/gauging/methods/trace.js";

test("a trace is read from seconds, clocks, tabs, semicolons, commas and decimal commas", () => {
  const wanted = { time_s: [0, 5, 10], trace: [85, 102.5, 131], second: null };
  for (const text of [
    "0 85\n5 102,5\n10 131",
    "0,85\n5,102.5\n10,131\n",
    "time_s;ec\n0;85\n5;102,5\n10;131\n",
    "Time\tEC \u00b5S/cm\r\n12:00:00\t85\r\n12:00:05\t102.5\r\n12:00:10\t131",
    "10:00, 85\n10:05, 102.5\n10:10, 131",
    "2026-11-25 23:59:55,85\n2026-11-26 00:00:00,102.5\n2026-11-26 00:00:05,131",
  ])
    assert.deepEqual(readTrace(text), wanted, text);
  assert.deepEqual(readTrace("0 85 84\n5 102 101").second, [84, 101]);
  assert.deepEqual(readTrace(""), { time_s: [], trace: [], second: null });
});

test("a line that is not understood is named, never dropped", () => {
  assert.throws(() => readTrace("0 85\n5 ,\n10 131"), { field: "trace line 2" });
  assert.throws(() => readTrace("0 85\nfive 90"), { field: "trace line 2" });
  assert.throws(() => readTrace("0 85 84\n5 90"), { field: "second probe" });
});

test("readings typed at an interval go on from the last time", () => {
  let text = nextLine("", 5, "85,5");
  text = nextLine(text, 5, "102", "101");
  assert.equal(text, "0; 85,5\n5; 102; 101");
});

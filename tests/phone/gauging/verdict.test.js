/** A gauging against the rating in force. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { judge, rateAtHead } from "../../../static/field/gauging/verdict.js";
import { powerTable } from "../power_table.js";

const START = "2026-11-25T09:15:00.000Z";

const structure = (extra = {}) => ({
  id: 3,
  gauge_zeros: [
    { id: 1, valid_from: "2026-01-01T00:00:00Z", offset_m: -0.0005, tail_offset_m: null },
  ],
  ratings: [{ id: 7, valid_from: "2026-01-01T00:00:00Z", table: powerTable() }],
  head_uncertainty_m: 0.003,
  ...extra,
});

const heads = (...list) =>
  list.map((staff_m, i) => ({
    at: new Date(Date.parse(START) + i * 600000).toISOString(),
    staff_m,
    text: "",
  }));

const free = { state: "clearly_free", staff_m: null, text: null };

const gauged = (discharge_m3s, extra = {}) => ({
  discharge_m3s,
  uncertainty_pct: 8,
  flags: [],
  indication_only: false,
  ...extra,
});

const judged = (gauging, read, place = structure()) =>
  judge(gauging, rateAtHead({ heads: read, tailwater: free, startedAt: START }, place));

test("the verdict is against the rating at the time-weighted mean head over the crest", () => {
  const atHead = rateAtHead(
    { heads: heads(0.25, 0.251), tailwater: free, startedAt: START },
    structure(),
  );
  assert.ok(Math.abs(atHead.head.mean_m - 0.25) < 1e-12);
  assert.ok(Math.abs(atHead.rated.discharge_m3s / (0.69 * 0.25 ** 1.522) - 1) < 5e-4);
  assert.equal(judged(gauged(0.085), heads(0.25, 0.251)).verdict.word, "agrees");
  const failed = judged(gauged(0.12), heads(0.25, 0.251)).verdict;
  assert.equal(failed.word, "fails");
  assert.ok(failed.e_n > 1);
});

test("47.2 +-8 % against 45.0 +-5 %: +4.9 %, E_n 0.50, agrees (EUROLAB Cook Book no. 4 form)", () => {
  const atHead = {
    head: { steady: true, word: "steady" },
    rated: { discharge_m3s: 0.045, uncertainty_pct: 5, flow: "free", flags: [] },
    lacking: "",
  };
  const { verdict } = judge(gauged(0.0472), atHead);
  assert.deepEqual(
    [verdict.deviation_pct.toFixed(1), verdict.e_n.toFixed(2), verdict.word],
    ["4.9", "0.50", "agrees"],
  );
});

test("a head that moved proves nothing, and says so", () => {
  const { verdict, flags } = judged(gauged(0.12), heads(0.25, 0.262));
  assert.equal(verdict.word, "not proven");
  assert.match(verdict.reason, /head moved .* gauge again/);
  assert.match(flags.join(), /head moved/);
});

test("without heads, a zero or a rating nothing is proven, with the reason", () => {
  assert.match(judged(gauged(0.085), []).verdict.reason, /no staff reading/);
  assert.match(
    judged(gauged(0.085), heads(0.25), structure({ gauge_zeros: [] })).verdict.reason,
    /gauge zero/,
  );
  assert.match(
    judged(gauged(0.085), heads(0.25), structure({ ratings: [] })).verdict.reason,
    /no rating/,
  );
  for (const place of [structure({ gauge_zeros: [] }), structure({ ratings: [] })])
    assert.equal(judged(gauged(0.085), heads(0.25), place).verdict.word, "not proven");
});

test("a float never judges a rating", () => {
  const { verdict } = judged(gauged(0.085, { indication_only: true }), heads(0.25, 0.25));
  assert.deepEqual(
    [verdict.word, verdict.reason],
    ["not proven", "indication only: the method cannot judge a rating"],
  );
});

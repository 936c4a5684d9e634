/** Check gaugings on the phone: the server's vectors, traces as text, verdicts, entries. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  emptyGauging,
  gaugingEntry,
  isHalfFilled,
  problemWords,
  readGauging,
  valuesOf,
} from "../../static/field/gauging/entry.js";
import { nextLine, readTrace } from "../../static/field/gauging/methods/trace.js";
import { wadingWords } from "../../static/field/gauging/methods/velocity.js";
import { METHODS, methodOf, worked } from "../../static/field/gauging/methods.js";
import { judge, rateAtHead } from "../../static/field/gauging/verdict.js";
import { oddFigure } from "../../static/field/typed/figure_limits.js";
import { runVectors } from "./vectors.js";

runVectors("gauging_observed_vectors.json", { worked });

// A table of the power law Q = 0.69 h^1.522, about a 1 ft Parshall flume.
function table() {
  const heads_m = Array.from({ length: 64 }, (_, i) => 0.01 * 60 ** (i / 63));
  return {
    heads_m,
    discharge_m3s: heads_m.map((h) => 0.69 * h ** 1.522),
    device_pct: heads_m.map(() => 3),
    exponent: heads_m.map(() => 1.522),
    modular_limit: heads_m.map(() => 0.62),
    drowned: null,
    head_min_m: 0.03,
    head_max_m: 0.6,
    cease_to_flow_m: 0,
    can_drown: true,
    warn_submergence: 0.9,
    max_submergence: 0.95,
    hash: "h",
  };
}
const START = "2026-11-25T09:15:00.000Z";
const structure = (extra = {}) => ({
  id: 3,
  gauge_zeros: [
    { id: 1, valid_from: "2026-01-01T00:00:00Z", offset_m: -0.0005, tail_offset_m: null },
  ],
  ratings: [{ id: 7, valid_from: "2026-01-01T00:00:00Z", table: table() }],
  head_uncertainty_m: 0.003,
  ...extra,
});
const site = { id: 2, utc_offset_min: 720, head_unit: "mm", check_gaugings: [] };
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

function velocityValues() {
  const part = methodOf("velocity_area").empty();
  const row = (distance, depth, velocity) => ({
    distance,
    depth,
    mode: "v06",
    points: { v06: { velocity, counts: "", seconds: "" } },
  });
  part.first.distance = "0";
  part.last.distance = "2";
  part.rows = [
    ["0,5", "0,3", "0.2"],
    ["1", "0.5", "0,3"],
    ["1.5", "0.3", "0.2"],
  ].map((each) => row(...each));
  return {
    ...emptyGauging("018f0000-0000-7000-8000-000000000001", "mm"),
    method: "velocity_area",
    parts: { velocity_area: part },
    heads: [
      { text: "250", at: START },
      { text: "251", at: "2026-11-25T09:45:00.000Z" },
    ],
    tail: "clearly_free",
    cautions_read: true,
  };
}
const open = () => ({
  structure: structure(),
  pack: {},
  highest: 0.9,
  utcOffsetMin: 720,
  now: "2026-11-25T10:00:00.000Z",
});

test("a form becomes an entry with every figure as typed, and back again", () => {
  const values = velocityValues();
  const read = readGauging(values, open());
  assert.deepEqual(read.blocking, []);
  assert.equal(read.problem, null);
  // mid-section by hand: (0.3*0.2 + 0.5*0.3 + 0.3*0.2) * 0.5
  assert.ok(Math.abs(read.gauging.discharge_m3s - 0.135) < 1e-12);
  const entry = gaugingEntry(values, read, {
    site,
    structure: structure(),
    visitId: null,
    personId: 4,
    corrects: null,
    now: "2026-11-25T10:00:00.000Z",
  });
  assert.equal(entry.kind, "check_gauging");
  assert.deepEqual(entry.body.observed.verticals[1], {
    distance_m: "0,5",
    depth_m: "0,3",
    points: { v06: { velocity_ms: "0.2", counts: null, seconds: null } },
  });
  assert.deepEqual(
    [entry.body.started_at, entry.body.ended_at],
    [START, "2026-11-25T09:45:00.000Z"],
  );
  assert.equal(entry.body.heads[0].staff_m, 0.25);
  assert.equal(entry.body.preview.rating_id, 7);
  const again = readGauging(
    valuesOf(JSON.parse(JSON.stringify(entry)), "x", () => ""),
    open(),
  );
  assert.deepEqual(again.observed, read.observed);
});

test("while a vertical is being typed the sum so far stays, and saving whole waits", () => {
  const values = velocityValues();
  values.parts.velocity_area.rows[2].points = {};
  const read = readGauging(values, open());
  assert.equal(read.problem, null);
  assert.match(problemWords(read.unfinished), /Vertical 4/);
  assert.deepEqual(read.gauging.places, [0, 1, 2, 4]);
  assert.equal(read.verdict, null);
  values.parts.velocity_area.last.distance = "";
  assert.match(problemWords(readGauging(values, open()).unfinished), /Vertical 4|Last edge/);
});

test("verticals out of order are named and nothing typed is lost", () => {
  const values = velocityValues();
  values.parts.velocity_area.rows[1].distance = "0.4";
  const read = readGauging(values, open());
  assert.equal(
    problemWords(read.problem),
    "Vertical 3 tape \u201c0.4\u201d: verticals go one way along the tape. Put it in its place, or correct it: the one before is at 0.5 m.",
  );
  const entry = gaugingEntry(values, read, {
    site,
    structure: structure(),
    personId: 4,
    now: START,
  });
  assert.equal(entry.body.preview.discharge_m3s, null);
  assert.equal(entry.body.observed.verticals[2].distance_m, "0.4");
});

test("times typed by hand need a reason, and the end may not lie before the start", () => {
  const values = { ...velocityValues(), start: "2026-11-25T21:30", end: "2026-11-25T21:00" };
  assert.deepEqual(readGauging(values, open()).blocking, [
    "Say why the times are typed by hand.",
    "The end lies before the start. Check the times.",
  ]);
});

test("every method starts empty, notices the first figure, and keeps what another one holds", () => {
  for (const method of METHODS) assert.equal(method.begun(method.empty()), false, method.key);
  const values = emptyGauging("i", "mm");
  assert.equal(isHalfFilled(values), false);
  values.parts.volumetric = {
    ...methodOf("volumetric").empty(),
    fills: [{ volume: "20", time: "8" }],
  };
  values.method = "float";
  assert.equal(isHalfFilled(values), true);
});

test("depth times speed near 1 speaks up (common practice)", () => {
  const section = (depth, speed) => ({
    depth_m: [0, depth, 0],
    velocity_ms: [0, speed, 0],
    distance_m: [0, 1, 2],
  });
  assert.match(wadingWords(section(0.6, 1.7)), /at or over the limit of 1/);
  assert.match(wadingWords(section(0.6, 1.3)), /near the limit of 1/);
  assert.match(wadingWords(section(0.9, 0.2)), /thigh/);
  assert.equal(wadingWords(section(0.3, 0.5)), null);
});

test("a portable device is rated by its table from the office, free drop or not", () => {
  const device = {
    key: "d",
    label: "D",
    family: "f",
    dims: {},
    described: "a plate",
    table: { ...table(), drowned: null },
  };
  const seen = {
    method: "portable",
    device: { key: "d", family: "f", dims: {} },
    heads_mm: ["100", "102"],
    head_uncertainty_mm: null,
    free_seen: false,
  };
  const found = methodOf("portable").work(seen, { portable: [device] });
  assert.ok(Math.abs(found.discharge_m3s / (0.69 * 0.101 ** 1.522) - 1) < 5e-4);
  assert.deepEqual(found.flags, ["portable device: free drop not seen"]);
  assert.deepEqual(
    methodOf("portable").work({ ...seen, free_seen: true }, { portable: [device] }).flags,
    [],
  );
  assert.throws(() => methodOf("portable").work(seen, { portable: [] }), { field: "device" });
});

test("a start or an end in the time to come is not saved", () => {
  const values = {
    ...velocityValues(),
    start: "2027-11-25T21:00",
    end: "2027-11-25T21:30",
    time_reason: "x",
  };
  assert.match(
    readGauging(values, open()).blocking.join(" "),
    /The start lies ahead.*The end lies ahead/,
  );
});

test("figures that nobody measures at a flume are asked about once, others never", () => {
  const vertical = (more) => ({
    verticals: [
      { distance_m: "1.2", depth_m: "0.4", points: { v06: { velocity_ms: "0.5" } }, ...more },
    ],
  });
  const ask = (observed, kept = []) => oddFigure(observed, kept);
  assert.equal(ask(vertical({})), null);
  const deep = ask(vertical({ depth_m: "15" }));
  assert.deepEqual(
    [deep.question, deep.offers[0]],
    ["Depth 15 m?", { text: "1.5", words: "1.5 m?" }],
  );
  assert.equal(ask(vertical({ depth_m: "15" }), [deep.key]), null);
  assert.ok(ask(vertical({ distance_m: "15" }), [deep.key]) === null);
  assert.deepEqual(
    ask(vertical({ points: { v06: { velocity_ms: "25" } } })).offers.map(({ text }) => text),
    ["2.5", "0.025"],
  );
  assert.equal(ask({ width_m: "300", depths_m: ["0,3"] }).question, "Width 300 m?");
  assert.equal(ask({ fills: [{ volume_l: "20", time_s: "0" }] }).question, "Time 0 s?");
  assert.deepEqual(ask({ fills: [{ volume_l: "20", time_s: "0" }] }).offers, []);
  assert.equal(ask({ fills: [{ volume_l: "20000", time_s: "8.3" }] }).offers[0].text, "2000");
  assert.equal(ask({ time_s: [0, 5, 1e5], depth_m: "deep", width_m: "" }), null);
});

test("an odd figure stands in the way of Save until it is answered", () => {
  const values = velocityValues();
  const row = values.parts.velocity_area.rows[1];
  row.depth = "15";
  assert.match(readGauging(values, open()).blocking.join(" "), /Answer "Depth 15 m\?" first/);
  values.kept.push(readGauging(values, open()).odd.key);
  assert.deepEqual(readGauging(values, open()).blocking, []);
});

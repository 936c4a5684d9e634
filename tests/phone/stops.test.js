/**
 * Install stops and openings from typed figures to entries. Limits 1 mm and 2 mm: common practice;
 * uplift of the invented box worked by hand (Archimedes).
 */
import assert from "node:assert/strict";
import { test } from "node:test";
import { dimensionBody } from "../../static/field/install/as_built.js";
import { checkStop, stopsSoFar } from "../../static/field/install/check.js";
import { emptyStop, isHalfFilled, stopBody } from "../../static/field/install/entry.js";
import { markEntry, markProblem } from "../../static/field/levels/marks_form.js";
import * as opening from "../../static/field/opening/entry.js";

const STOP = {
  key: "S5",
  asks: [{ key: "even", text: "Both sides filled evenly" }],
  parts: ["moment", "lift", "box", "concrete", "corners", "widths", "delivered", "creep", "tail"],
};
const typed = (fields = {}, changes = {}) => {
  const empty = emptyStop("id-1", "S5");
  return { ...empty, ...changes, fields: { ...empty.fields, ...fields } };
};
const CORNERS = {
  reference: "BM1",
  reference_rl_m: "100",
  backsight_m: "1,342",
  corner_ul: "2.118",
  corner_ur: "2.119",
  corner_dl: "2.117",
  corner_dr: "2.118",
};
const BOX = {
  length_m: "2.4",
  width_m: "0.9",
  water_depth_m: "0.5",
  concrete_depth_m: "0.15",
  mass_kg: "120",
};
const place = {
  site: { id: 3, utc_offset_min: 720 },
  structure: { id: 4 },
  visitId: null,
  personId: 1,
  now: "2026-11-25T00:00:00.000Z",
};
const near = (got, wanted) => assert.ok(Math.abs(got - wanted) < 1e-6, `${got} is not ${wanted}`);

test("figures become a body in metres, blanks stay unknown", () => {
  const { body, lacking } = stopBody(
    typed({ ...CORNERS, ...BOX, top_m: "400", middle_m: "399,5", slab: "0.6", lift_m: "0.3" }),
    STOP,
  );
  assert.deepEqual(lacking, []);
  assert.deepEqual(body.widths, { top_m: 0.4, middle_m: 0.3995, bottom_m: null });
  assert.equal(body.corners.backsight_m, 1.342);
  assert.equal(body.corner_tolerance_m, 0.002);
  assert.equal(body.box.target, 1.25);
  assert.deepEqual(body.concrete, { parts_m3: { slab: 0.6 }, void_m3: 0 });
  assert.equal(body.tail, null);
});

test("a width typed in metres, a list with a word and a half-filled section are asked about", () => {
  const lacking = (fields) => stopBody(typed(fields), STOP).lacking.join(" ");
  assert.match(lacking({ top_m: "0.4" }), /Top.*0.4 m/);
  assert.match(lacking({ verticals_m: "0.6 deep", head_m: "0.4" }), /Verticals/);
  assert.match(lacking({ corner_ul: "2.1" }), /give the mark's level/);
  assert.match(lacking({ length_m: "2.4" }), /width and mass/);
  assert.match(lacking({ horizontals_m: "2.4" }), /head difference/);
  assert.match(lacking({ mass_kg: "heavy" }), /not a number/);
});

test("a box that lifts, walls that bow and an answer no stop the work", () => {
  const set = stopBody(
    typed({ ...CORNERS, top_m: "400", middle_m: "400", bottom_m: "400" }),
    STOP,
  ).body;
  const after = stopBody(
    typed(
      {
        ...CORNERS,
        corner_ul: "2.114",
        corner_ur: "2.115",
        corner_dl: "2.113",
        corner_dr: "2.114",
        top_m: "400",
        middle_m: "398",
        bottom_m: "400",
        ...BOX,
      },
      { seen: { even: "no" } },
    ),
    STOP,
  ).body;
  const found = checkStop(after, [{ ...set, stop: "S2" }], STOP);
  assert.equal(found.word, "stop");
  const said = found.reasons.map(([word, reason]) => `${word}: ${reason}`).join("\n");
  assert.match(said, /stop: corner changed by 4.0 mm/);
  assert.match(said, /stop: width changed by 2.0 mm/);
  assert.match(said, /stop: Both sides filled evenly: no/);
  near(found.water.uplift_kn, 10.591182);
  near(found.hold_m3, 1.0695652173913);
  near(found.wet.net_kn, 6.44885304);
});

test("nothing recorded is noted, never go; no soil is not known", () => {
  assert.equal(checkStop(stopBody(typed(), STOP).body, [], STOP).word, "noted");
  const path = stopBody(
    typed({ verticals_m: "0.6 0.6 0.6 0.6", horizontals_m: "2.4", head_m: "0.45" }),
    STOP,
  ).body;
  const found = checkStop(path, [], STOP);
  near(found.creep.ratio, 7.111111111111);
  assert.equal(found.word, "unknown");
  assert.equal(isHalfFilled(typed()), false);
  assert.equal(isHalfFilled(typed({ lift_m: "0.3" })), true);
});

test("stops of the office and of this phone, each once, oldest first", () => {
  const record = (id, observed_at, state = "waiting") => ({
    id,
    state,
    entry: { kind: "install_stop", structure_id: 4, observed_at, body: { stop: "S3" } },
  });
  const survey = {
    stops: [{ id: "a", observed_at: "2026-01-02T00:00:00Z", body: { stop: "S2" } }],
  };
  const found = stopsSoFar(
    survey,
    [
      record("b", "2026-01-03T00:00:00Z"),
      record("a", "2026-01-02T00:00:00Z", "stored"),
      record("c", "2026-01-01T00:00:00Z"),
      record("d", "2026-01-01T00:00:00Z", "replaced"),
    ],
    4,
    { stands: () => true },
  );
  assert.deepEqual(
    found.map(({ id }) => id),
    ["c", "a", "b"],
  );
});

test("dimensions: repeats in mm become metres, nonsense is named", () => {
  const asked = [
    { key: "W", label: "Neck width" },
    { key: "L", label: "Length" },
  ];
  assert.deepEqual(dimensionBody({ W: "203 203,4" }, asked, "tape").body.dimensions, [
    { key: "W", label: "Neck width", measured_m: [0.203, 0.2034], note: "" },
  ]);
  assert.match(dimensionBody({ W: "wide" }, asked, "").problem, /Neck width/);
  assert.match(dimensionBody({}, asked, "").problem, /at least one/);
});

const STRUCTURE = { gauge_zeros: [], ratings: [], head_uncertainty_m: 0.003, pond_area_m2: null };
const head = (minute, staff_m) => ({
  at: `2026-11-25T00:${String(minute).padStart(2, "0")}:00.000Z`,
  staff_m,
  tail_staff_m: null,
});
const opened = (changes) => ({ ...opening.emptyOpening("id-2", "mm"), ...changes });

test("steady is judged from the last readings since the gate moved", () => {
  const gate = [{ at: "2026-11-25T00:00:00.000Z", opening: "2 turns" }];
  const filling = [head(1, 0.1), head(3, 0.15), head(5, 0.18)];
  assert.equal(opening.steadyNow(opened({ gate, heads: filling }), STRUCTURE).word, "settling");
  const settled = [...filling, ...[20, 22, 24, 26, 28].map((minute) => head(minute, 0.2))];
  assert.equal(opening.steadyNow(opened({ gate, heads: settled }), STRUCTURE).word, "steady");
  const moved = [...gate, { at: "2026-11-25T00:30:00.000Z", opening: "3 turns" }];
  assert.equal(
    opening.steadyNow(opened({ gate: moved, heads: settled }), STRUCTURE).word,
    "unknown",
  );
});

test("what is missing before recording is listed, nothing is hidden", () => {
  const zero = { offset_m: -0.0005 };
  const open = opening
    .openPoints(
      opened({ seeps: { toe: "muddy" }, sensor_staff: "200", sensor_after: "205" }),
      STRUCTURE,
      zero,
      null,
      720,
    )
    .join("\n");
  for (const words of [
    /no rating/,
    /not shown to be steady/,
    /seeps not looked at: bank/,
    /muddy seep: toe/,
    /sensor differs from the staff by 5.5 mm/,
    /clock not set/,
    /no check gauging/,
  ])
    assert.match(open, words);
});

test("clock errors to the second, on the site's clock", () => {
  const values = opened({
    clock_right: "2026-11-25T00:00:00.000Z",
    clock_before: "2026-11-25T12:01:30",
    clock_after: "2026-11-25T12:00:00",
  });
  assert.deepEqual(opening.clockErrors(values, 720), { before_s: 90, after_s: 0 });
  assert.deepEqual(opening.clockErrors(opened({}), 720), { before_s: null, after_s: null });
});

test("an opening with a loose figure is not saved; a whole one is", () => {
  assert.match(opening.problems(opened({ staff_text: "200" }))[0], /not taken/);
  assert.match(opening.problems(opened({ sensor_staff: "0.2" }))[0], /unit/);
  assert.match(opening.problems(opened({ clock_after: "2026-11-25T12:00:00" }))[0], /Right time/);
  assert.match(opening.problems(opened({}))[0], /Record something/);
  const values = opened({
    heads: [head(1, 0.2)],
    sensor_staff: "200",
    sensor_after: "199,5",
    fit: true,
    fit_from: "2026-11-25T13:00",
    fit_words: "toe seeps",
  });
  assert.deepEqual(opening.problems(values), []);
  const { body } = opening.openingEntry(values, { steady: { word: "steady" }, open: [] }, place);
  assert.equal(body.sensor.after_m, 0.1995);
  assert.equal(body.fit_from, "2026-11-25T01:00:00.000Z");
});

test("a benchmark has a name and a level that is a number", () => {
  const values = {
    name: " BM1 ",
    mark: "bolt",
    stability: "firm",
    rl_text: "100,25",
    datum: "assumed",
    place: "abutment",
  };
  assert.equal(markProblem(values), "");
  assert.equal(markEntry(values, { ...place, id: "x" }).body.rl_m, 100.25);
  assert.match(markProblem({ ...values, name: " " }), /name/);
  assert.match(markProblem({ ...values, rl_text: "high" }), /not a level/);
});

test("a station fit to record from the year to come is not saved", () => {
  const values = opened({
    heads: [head(1, 0.2)],
    fit: true,
    fit_from: "2027-11-25T13:00",
    fit_words: "x",
  });
  const said = opening.problems(values, { utcOffsetMin: 720, now: "2026-11-25T01:05:00.000Z" });
  assert.match(said[0], /Fit to record from lies ahead.*year/);
  assert.deepEqual(
    opening.problems(
      { ...values, fit_from: "2026-11-25T13:09" },
      { utcOffsetMin: 720, now: "2026-11-25T01:05:00.000Z" },
    ),
    [],
  );
});

/**
 * Install stops and openings from typed figures to entries. Limits 1 mm and 2 mm: common practice;
 * uplift of the invented box worked by hand (Archimedes).
 */
import assert from "node:assert/strict";
import { test } from "node:test";
import { checkStop, stopsSoFar } from "../../../static/field/install/check.js";
import { isHalfFilled, stopBody } from "../../../static/field/install/entry.js";
import { BOX, CORNERS, STOP, typed } from "./made_up_stop.js";

const near = (got, wanted) => assert.ok(Math.abs(got - wanted) < 1e-6, `${got} is not ${wanted}`);

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

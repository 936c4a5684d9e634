/** The phone's look at a plan against the server, by shared vectors: light tables cost under 0.2 %. */
import assert from "node:assert/strict";
import test from "node:test";
import { columnAt, headFor, judge, tailAt } from "../../../static/field/sums/plan.js";
import { casesOf } from "../vectors.js";

const vectors = casesOf("plan_vectors.json").map(({ name, args, result }) => ({
  name,
  ...args,
  ...result,
}));

function near(found, wanted, share, what) {
  if (wanted === null) return assert.equal(found, null, what);
  return assert.ok(
    Math.abs(found - wanted) <= share * Math.max(Math.abs(wanted), 0.05),
    `${what}: ${found}, wanted ${wanted}`,
  );
}

for (const v of vectors) {
  test(`judged as the server judges: ${v.name}`, () => {
    const said = judge(v.table, v.question);
    assert.ok(
      Math.abs(said.crest_needed_m - v.crest_needed_m) < 0.0005,
      `crest ${said.crest_needed_m}`,
    );
    said.flows.forEach((flow, i) => {
      for (const [key, wanted] of Object.entries(v.flows[i]))
        near(flow[key], wanted, key.endsWith("pct") ? 0.01 : 0.002, key);
    });
  });
  test(`tail level at the flows of the plan: ${v.name}`, () => {
    const { flows_m3s, tails_m } = v.question;
    flows_m3s.forEach((q, i) =>
      near(tailAt(flows_m3s, tails_m, v.tail_bed_m, q), tails_m[i], 1e-12, "tail"),
    );
  });
}

test("outside the table nothing is told", () => {
  const { table } = vectors[0];
  assert.equal(headFor(table, table.discharge_m3s.at(-1) * 1.01), null);
  assert.equal(headFor(table, table.discharge_m3s[0] * 0.99), null);
  const said = judge(table, { ...vectors[0].question, flows_m3s: [0.001, 0.01, 99] });
  assert.equal(said.flows[2].head_m, null);
});

test("without a crest the needed one is taken, up to 5 mm as in the office, and every flow is free", () => {
  const { table, question } = vectors[0];
  const said = judge(table, { ...question, crest_rl_m: null });
  assert.ok(
    said.crest_rl_m >= said.crest_needed_m - 1e-8 && said.crest_rl_m < said.crest_needed_m + 0.005,
  );
  assert.ok(Math.abs(said.crest_rl_m / 0.005 - Math.round(said.crest_rl_m / 0.005)) < 1e-6);
  for (const flow of said.flows) assert.ok(flow.submergence_weedy <= flow.modular_limit + 1e-9);
});

test("a limit that is not known stays unknown", () => {
  const table = {
    ...vectors[0].table,
    modular_limit: vectors[0].table.modular_limit.map(() => null),
  };
  assert.equal(columnAt(table, "modular_limit", 0.2), null);
  assert.ok(judge(table, vectors[0].question).flows[0].words.includes("modular limit not known"));
});

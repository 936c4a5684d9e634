/**
 * Answers questions about the phone's code: one JSON line in, one out, until the input ends.
 *
 * argv[2]: {name: addresses of its modules}. A question is {call: "module.function", args}; a call in
 * `made` is built from several functions. Numbers that JSON has no word for go as {"$number"}.
 */
import { createInterface } from "node:readline";

const modules = {};
for (const [name, addresses] of Object.entries(JSON.parse(process.argv[2]))) {
  const parts = await Promise.all(addresses.map((address) => import(address)));
  modules[name] = Object.assign({}, ...parts);
}
const { standing, sums_crest, sums_gaugings, sums_levels } = modules;

const made = {
  results_of_run: ({ run, ...rest }) =>
    sums_crest.resultsOfRun({ run: sums_levels.reduceRun(run), ...rest }),
  point_levels: ({ run, adjusted }) => sums_levels.pointLevels(sums_levels.reduceRun(run), adjusted),
  standing: (nodes) => {
    const found = standing.standing(nodes);
    const ids = [...new Set(nodes.map(({ id }) => id))].sort();
    return {
      stand: ids.filter(found.stands),
      rivals: ids.filter(found.rival),
      tips: Object.fromEntries(ids.map((id) => [id, found.tips(id)])),
      latest: Object.fromEntries(ids.map((id) => [id, found.latest(id)])),
    };
  },
  mean_velocity: (row) => sums_gaugings.meanVelocity(row),
  order: (sites, here) => modules.nearest.order(sites, here).map(({ site, away_m }) => ({ id: site.id, away_m })),
  id_at: (time, fill) =>
    modules.uuid7.makeUuid7(
      () => time,
      (count) => new Uint8Array(count).fill(fill),
    )(),
  book: (typed, exponent, now) => {
    const { levels_entry } = modules;
    const values = { ...levels_entry.emptyRun("made up"), ...typed };
    const found = levels_entry.reduce(values, exponent);
    if (!found.run) return { problem: found.problem };
    return {
      problem: null,
      lacking: Boolean(found.ruleProblem),
      run: found.run,
      results: found.results,
      tail_zero: found.tailZero_m,
      roles: levels_entry.pointsByRole(values.sights),
      marks: levels_entry.marksOf(values, found.run),
      doubt: levels_entry.doubt(found.run),
      body: levels_entry.runEntry(values, found, {
        site: { id: 1, utc_offset_min: 0 },
        now,
        exponent,
      }).body,
    };
  },
  // what these modules give that is none of the functions asked, whichever module hands it on
  unasked: (asked) => {
    const known = new Set(asked.map((call) => call.split(".").reduce((at, key) => at[key], modules)));
    const given = Object.entries(modules).flatMap(([name, module]) =>
      Object.entries(module).map(([key, value]) => [`${name}.${key}`, value]),
    );
    return given
      .filter(([, value]) => typeof value === "function" && !known.has(value))
      .map(([call]) => call);
  },
  two_sided: (dof) => modules.sums_statistics.twoSided(dof),
};

const wired = (_, value) =>
  typeof value === "number" && !Number.isFinite(value) ? { $number: String(value) } : value;
const unwired = (_, value) =>
  value && typeof value === "object" && "$number" in value ? Number(value.$number) : value;

function answer({ call, args }) {
  const [module, name] = call.split(".");
  try {
    return { result: (made[call] ?? modules[module][name])(...args) ?? null };
  } catch (error) {
    if (error.name !== "BadInput") return { fault: String(error.stack) };
    const { field, rule, remedy } = error;
    return { error: { field, rule, remedy } };
  }
}

for await (const line of createInterface({ input: process.stdin })) {
  process.stdout.write(`${JSON.stringify(answer(JSON.parse(line, unwired)), wired)}\n`);
}

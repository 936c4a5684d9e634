/**
 * Which entries stand: the office's rule (app/services/entries/standing.py, which states it), here
 * over what the pack tells of links and over this phone's own records. The shared vectors in
 * tests/tables/standing_vectors.json prove the two equal.
 *
 * A node: {id, kind, site_id, by, any, moves, corrects}; `any` may correct everybody's entries.
 */
const WITHDRAWAL = "withdrawal";

function acts(node, named) {
  return (
    Boolean(named) &&
    (node.kind === WITHDRAWAL || node.kind === named.kind) &&
    (node.site_id === named.site_id || (node.moves && node.kind !== WITHDRAWAL))
  );
}

/** Entries that are not among the nodes have no link and stand. */
export function standing(list) {
  const nodes = new Map(list.map((node) => [node.id, node]));
  const acting = new Map(); // entry: what it names
  const refused = new Set();
  const namedBy = new Map();
  for (const node of [...nodes.values()].sort((a, b) => (a.id < b.id ? -1 : 1))) {
    const named = nodes.get(node.corrects);
    if (!acts(node, named)) continue;
    if (!node.any && node.by !== named.by) {
      refused.add(node.id);
      continue;
    }
    acting.set(node.id, named.id);
    namedBy.set(named.id, [...(namedBy.get(named.id) ?? []), node.id]);
  }
  const withdrawn = new Set();
  const counting = new Map();
  const judge = (id, names) => {
    if (names.some((one) => nodes.get(one).kind === WITHDRAWAL && !withdrawn.has(one)))
      withdrawn.add(id);
    const counts = names.filter(
      (one) => nodes.get(one).kind !== WITHDRAWAL && (!withdrawn.has(one) || counting.has(one)),
    );
    if (counts.length) counting.set(id, counts);
  };
  // from the ends of the lines to their beginnings; a ring is never ready
  const left = new Map([...nodes.keys()].map((id) => [id, namedBy.get(id)?.length ?? 0]));
  const ready = [...left.keys()].filter((id) => left.get(id) === 0);
  while (ready.length) {
    const id = ready.pop();
    left.delete(id);
    judge(id, namedBy.get(id) ?? []);
    const named = acting.get(id);
    if (named === undefined) continue;
    left.set(named, left.get(named) - 1);
    if (left.get(named) === 0) ready.push(named);
  }
  const ring = new Set(left.keys());
  for (const id of ring)
    judge(
      id,
      namedBy.get(id).filter((one) => !ring.has(one)),
    );

  const stands = (id) =>
    !(
      withdrawn.has(id) ||
      counting.has(id) ||
      refused.has(id) ||
      nodes.get(id)?.kind === WITHDRAWAL
    );
  /** What stands in the place of an entry: itself, or the ends of its corrections. */
  function tips(id) {
    const found = [];
    const todo = [id];
    while (todo.length) {
      const one = todo.pop();
      todo.push(...(counting.get(one) ?? []));
      if (stands(one)) found.push(one);
    }
    return found.sort();
  }
  /** Whether another correction of the same entry counts beside this one's line. */
  function rival(id) {
    const line = new Set([id]);
    for (let at = acting.get(id); at !== undefined && !line.has(at); at = acting.get(at))
      line.add(at);
    const [, ...before] = line;
    return (
      before.some((one) => (counting.get(one)?.length ?? 0) > 1) ||
      [...line].filter((one) => ring.has(one) && tips(one).length).length > 1
    );
  }
  return { stands, rival, tips, latest: (id) => tips(id).at(-1) ?? null };
}

/** What the pack shows of entries that others on this phone may name, by id. */
function shown(pack, ids) {
  const found = [];
  const take = (kind, site_id, rows) => {
    for (const { id, by } of rows ?? []) {
      // a pack of before says no author: the office has the last word
      if (ids.has(id)) found.push({ id, kind, site_id, by: by ?? pack.person.id, corrects: null });
    }
  };
  for (const site of pack?.sites ?? []) {
    const { runs, benchmarks } = pack.survey?.sites?.[site.id] ?? {};
    take("head_reading", site.id, site.recent);
    take("check_gauging", site.id, site.check_gaugings);
    take("level_run", site.id, runs);
    take("benchmark", site.id, benchmarks);
    for (const { id } of site.structures)
      take("install_stop", site.id, pack.survey?.structures?.[id]?.stops);
  }
  return found;
}

/** What stands of the office's entries and this phone's together; refused ones have no say. */
export function standingHere(pack, records) {
  const told = new Set((pack?.links ?? []).map(({ id }) => id));
  const own = records
    .filter(({ id, state }) => !told.has(id) && (state === "waiting" || state === "stored"))
    .map(({ id, entry: { kind, site_id, by, moves = false, corrects } }) => ({
      id,
      kind,
      site_id,
      by,
      moves,
      corrects,
      any: by !== pack?.person.id || pack.person.role !== "crew", // of others here the office will judge
    }));
  const named = new Set(own.map(({ corrects }) => corrects).filter(Boolean));
  return standing([...shown(pack, named), ...own, ...(pack?.links ?? [])]);
}

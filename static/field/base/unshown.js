/** What a form does not show stays as it was: a correction never drops a field unseen. */

/** Fields that a form makes only when they are so: left out, they say no. */
const SAID_WHEN_SO = new Set(["as_typed", "asked", "dry", "distance_m"]);
/** Parts whose fields are what was measured, or what was worked out: left out, they are no more. */
const WHOLE = new Set(["readings_m", "parts_m3", "points", "seen", "seeps", "preview", "entered"]);
/** What a row of a list is known by, and what tells one shape of a part from another. */
const NAMES = ["key", "id", "at", "point", "role", "kind", "method", "stop"];

const isPart = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
const isSame = (made, earlier) => NAMES.every((name) => made[name] === earlier[name]);

function part(made, earlier, path) {
  const refused = path[0] === made.method ? path.slice(1) : path; // a refusal names the method too
  const kept = Object.entries(earlier).filter(
    ([key]) => !(key in made) && !SAID_WHEN_SO.has(key) && key !== refused[0],
  );
  const whole = Object.entries(made).map(([key, value]) => {
    const within = refused[0] === key ? refused.slice(1) : [];
    return [key, WHOLE.has(key) ? value : inner(value, earlier[key], within)];
  });
  return { ...Object.fromEntries(kept), ...Object.fromEntries(whole) };
}

function inner(made, earlier, refused) {
  if (isPart(made) && isPart(earlier))
    return isSame(made, earlier) ? part(made, earlier, refused) : made;
  if (!Array.isArray(made) || !Array.isArray(earlier)) return made;
  return made.map((row, i) => {
    if (!isPart(row)) return row;
    const keyed = earlier.findIndex((one) => isPart(one) && row.key && one.key === row.key);
    const at = keyed >= 0 ? keyed : made.length === earlier.length ? i : -1;
    return at < 0
      ? row
      : inner(row, earlier[at], refused[0] === String(at) ? refused.slice(1) : []);
  });
}

/**
 * The entry that a form made of `earlier` (the entry that it corrects or puts right), with the
 * fields of its body that the form did not make, also within its parts and rows. The field that
 * was refused is not brought back.
 */
export function withUnshown(made, earlier) {
  if (!earlier || earlier.entry.kind !== made.kind) return made;
  const [within, ...refused] = (earlier.refusal?.field ?? "").split(".");
  const body = part(made.body, earlier.entry.body, within === "body" ? refused : []);
  return { ...made, body };
}

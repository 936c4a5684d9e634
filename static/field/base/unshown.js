/** What a form does not show stays as it was: a correction never drops a field unseen. */

/** Fields that a form makes only when they are so: left out, they say no. */
const SAID_WHEN_SO = new Set(["as_typed", "dry"]);

/**
 * The entry that a form made of `earlier` (the entry that it corrects or puts right), with the
 * fields of its body that the form did not make. The field that was refused is not brought back.
 */
export function withUnshown(made, earlier) {
  if (!earlier || earlier.entry.kind !== made.kind) return made;
  const [, refused] = /^body\.([^.]+)/.exec(earlier.refusal?.field ?? "") ?? [];
  const kept = Object.entries(earlier.entry.body).filter(
    ([key]) => !(key in made.body) && !SAID_WHEN_SO.has(key) && key !== refused,
  );
  return { ...made, body: { ...Object.fromEntries(kept), ...made.body } };
}

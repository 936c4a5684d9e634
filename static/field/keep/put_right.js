/** A refused entry that is put right: the new one in its place, and its photos with it. */
import { uuid7 } from "../base/uuid7.js";

/** Photos of an entry that got another id, each as a correction of itself. */
function photosToMove(records, fromId, entry, makeId = uuid7) {
  if (fromId === entry.id) return [];
  const moved = new Set(records.map((one) => one.entry.corrects));
  return records
    .filter(
      (one) =>
        one.entry.kind === "photo" && one.entry.body.of === fromId && one.entry.by === entry.by,
    )
    .filter((one) => ["waiting", "stored"].includes(one.state) && !moved.has(one.id))
    .map(({ entry: photo }) => ({
      ...photo,
      id: makeId(),
      saved_at: entry.saved_at,
      corrects: photo.id,
      reason: "the entry that it belongs to was put right",
      body: { ...photo.body, of: entry.id },
    }));
}

/**
 * Inside one transaction of the outbox. The refused one stays readable: as "replaced", or, when the
 * new one keeps its id (a visit, which other entries cite), inside the new entry.
 */
export async function putRight(
  { entries, drafts, putNew, waitingRecord, now },
  refusedId,
  entry,
  draftKey,
) {
  const refused = await entries.get(refusedId);
  const again = refused?.replaced_by === entry.id; // saved twice: once is enough
  if (refused?.state !== "refused" && !again) {
    throw new Error("the first entry is no longer refused; look in the outbox");
  }
  let record = waitingRecord(entry);
  if (entry.id === refusedId) {
    const { entry: first, refusal } = refused;
    record.refused_before = [...(refused.refused_before ?? []), { entry: first, refusal }];
    await entries.put(record);
  } else {
    record = await putNew(entries, entry);
    await entries.put({
      ...refused,
      state: "replaced",
      replaced_by: entry.id,
      settled_at: now().toISOString(),
    });
  }
  if (!again)
    for (const photo of photosToMove(await entries.getAll(), refusedId, entry))
      await putNew(entries, photo);
  if (draftKey) await drafts.delete(draftKey);
  return record;
}

/**
 * Entries made on this phone, from "on this phone" to the office's receipt.
 *
 * An entry is saved when its transaction is complete and written through to the disk. It leaves
 * "waiting" only on its own receipt. Nothing expires: stored entries stay 30 days after their
 * receipt, so that an office restored from a backup can be given them again.
 */
const STRICT = { durability: "strict" };
const KEEP_STORED_MS = 30 * 24 * 3600 * 1000;
const SETTLED = new Set(["stored", "already_held"]);

function content(entry) {
  return JSON.stringify({ ...entry, saved_at: null });
}

/** `mayHold(entry, kept)` throws when the entry is not of the person signed in on this phone. */
export function makeOutbox(database, now = () => new Date(), mayHold = async () => {}) {
  /**
   * Change entries inside one durable transaction; resolves when it is complete. A `held` entry is
   * looked at for its author in the same transaction, before anything is written.
   */
  async function change(work, held = null) {
    const db = await database();
    const stores = held ? ["entries", "drafts", "kept"] : ["entries", "drafts"];
    const tx = db.transaction(stores, "readwrite", STRICT);
    try {
      const entries = tx.objectStore("entries");
      const found = held ? entries.get(held.id) : null; // asked for together: each answer takes its turn
      found?.catch(() => {});
      if (held) await mayHold(held, tx.objectStore("kept"));
      const answer = await work(entries, tx.objectStore("drafts"), found);
      await tx.done;
      return answer;
    } catch (error) {
      tx.done.catch(() => {}); // the reason is the first error, not the abort that follows it
      try {
        tx.abort();
      } catch {
        // already finished or aborted
      }
      throw error;
    }
  }

  function waitingRecord(entry) {
    return { id: entry.id, entry, state: "waiting", held_at: now().toISOString(), notes: [] };
  }

  async function putNew(entries, entry, found = entries.get(entry.id)) {
    const held = await found;
    if (held && content(held.entry) !== content(entry)) {
      throw new Error("another entry with this id is already on this phone");
    }
    if (!held) await entries.put(waitingRecord(entry));
    return held ?? waitingRecord(entry);
  }

  async function all() {
    const records = await (await database()).getAll("entries");
    return records.sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  return {
    all,

    get: async (id) => (await database()).get("entries", id),

    /** Save an entry; with `draftKey` the draft it came from goes in the same transaction. */
    hold: (entry, draftKey = null) =>
      change(async (entries, drafts, found) => {
        const [record] = await Promise.all([
          putNew(entries, entry, found),
          draftKey && drafts.delete(draftKey),
        ]);
        return record;
      }, entry),

    /** Put a corrected entry in the place of a refused one: see put_right.js. */
    replace: async (refusedId, entry, draftKey = null) => {
      const { putRight } = await import("./put_right.js");
      return change(
        (entries, drafts) =>
          putRight({ entries, drafts, putNew, waitingRecord, now }, refusedId, entry, draftKey),
        entry,
      );
    },

    /** The entries a person may send: their own that wait, oldest first. */
    waiting: async (personId) =>
      (await all())
        .filter((record) => record.state === "waiting" && record.entry.by === personId)
        .map((record) => record.entry),

    /**
     * Take the office's receipts for these ids; ids not in `sentIds` are left alone.
     * Returns the ids whose state changed.
     */
    settle: (receipts, sentIds, serverEpoch) =>
      change(async (entries) => {
        const settled = [];
        for (const receipt of receipts) {
          if (!sentIds.has(receipt?.id)) continue;
          const record = await entries.get(receipt.id);
          if (record?.state !== "waiting") continue;
          const common = { settled_at: now().toISOString(), notes: receipt.notes ?? [] };
          if (SETTLED.has(receipt.state)) {
            await entries.put({ ...record, ...common, state: "stored", epoch: serverEpoch });
          } else if (receipt.state === "refused" && receipt.field !== "by") {
            const { field, value, rule, remedy } = receipt;
            const refusal = { field, value, rule, remedy };
            await entries.put({ ...record, ...common, state: "refused", refusal });
          } else continue; // somebody else is signed in, or a word we do not know: keep waiting
          settled.push(receipt.id);
        }
        return settled;
      }),

    /** A changed epoch means the office was restored: what it stored before is offered again. */
    noticeEpoch: (serverEpoch) =>
      change(async (entries) => {
        let again = 0;
        for (const record of await entries.getAll()) {
          if (record.state !== "stored" || record.epoch === serverEpoch) continue;
          await entries.put({ ...record, state: "waiting", offered_again: true });
          again += 1;
        }
        return again;
      }),

    /** A refused entry as it is, once more: the office may have learned what it lacked. */
    offerAgain: (id) =>
      change(async (entries) => {
        const record = await entries.get(id);
        if (record?.state === "refused") await entries.put({ ...record, state: "waiting" });
      }),

    /** Let go of entries whose receipt is older than 30 days. */
    tidy: () =>
      change(async (entries) => {
        const limit = now().getTime() - KEEP_STORED_MS;
        for (const record of await entries.getAll()) {
          const done = record.state === "stored" || record.state === "replaced";
          if (done && Date.parse(record.settled_at) < limit) await entries.delete(record.id);
        }
      }),
  };
}

/**
 * Pictures on this phone, from the camera to the office's word "stored".
 *
 * The entry of a photo travels the outbox like any other; its picture follows after all entries,
 * by the hash of its bytes. Logger files go the same way (kind "logger_file", with a name). A row:
 * {sha256, bytes, by, entry_id, taken_at, sent_epoch, problem, held}. A picture is sent again when
 * the office was restored (another epoch than the one it was sent to).
 */
import { askOffice, NoAnswer } from "./office.js";

const SLOW_MS = 180000; // half a megabyte over a weak signal
const DAY_MS = 86400000;

const put = (fetch, row) =>
  askOffice(
    fetch,
    `/kept/${row.sha256}?kind=${row.kind ?? "photo"}${row.name ? `&name=${encodeURIComponent(row.name)}` : ""}`,
    {
      method: "PUT",
      headers: { "Content-Type": row.kind ? "application/octet-stream" : "image/jpeg" },
      body: row.bytes,
    },
    SLOW_MS,
  );

/** Where the entry of a row stands: its record, or null once it is let go after 30 days. */
const recordOf = (records, row) => records.find(({ id }) => id === row.entry_id) ?? null;

/** Not at the office yet: neither its bytes nor a word of the office about them. */
export function isUnsent(row, records) {
  const record = recordOf(records, row);
  if (record === null) return Boolean(row.held && !row.sent_epoch);
  return record.state === "stored" ? record.epoch !== row.sent_epoch : record.state !== "replaced";
}

export function makePhotos(database, now = () => Date.now()) {
  const all = async () => (await database()).getAll("photos");

  async function keep(row) {
    const tx = (await database()).transaction("photos", "readwrite", { durability: "strict" });
    const held = await tx.objectStore("photos").get(row.sha256);
    if (!held) await tx.objectStore("photos").put(row);
    await tx.done;
  }

  async function change(sha256, values) {
    const tx = (await database()).transaction("photos", "readwrite");
    const row = await tx.objectStore("photos").get(sha256);
    if (row) await tx.objectStore("photos").put({ ...row, ...values });
    await tx.done;
  }

  function isDue(row, record) {
    if (row.problem) return false;
    if (record === null) return row.held && !row.sent_epoch;
    return record.state === "stored" && record.epoch !== row.sent_epoch;
  }

  return {
    all,
    keep,
    get: async (sha256) => (await database()).get("photos", sha256),
    markHeld: (sha256) => change(sha256, { held: true }),
    /** The bytes go with this entry from now on: it was put right under another id, or just saved. */
    follow: (sha256, { id, by }) => change(sha256, { entry_id: id, by, problem: null, held: true }),

    /** How many pictures are not yet at the office. */
    waiting: async (records) => {
      const open = (row, record) =>
        row.problem || isDue(row, record) || record?.state === "waiting";
      return (await all()).filter((row) => open(row, recordOf(records, row))).length;
    },

    /**
     * Send the pictures whose entries the office holds, and give way as soon as a record waits.
     * Returns {sent, why}.
     */
    async send(outbox, fetch, personId) {
      let sent = 0;
      const records = await outbox.all();
      for (const row of await all()) {
        const record = recordOf(records, row);
        if (row.by !== personId || !isDue(row, record)) continue;
        if ((await outbox.waiting(personId)).length) return { sent, why: "" };
        try {
          await put(fetch, row);
          await change(row.sha256, { sent_epoch: record?.epoch ?? "sent", held: true });
          sent += 1;
        } catch (error) {
          if (!(error instanceof NoAnswer)) throw error;
          if (error.kind !== "batch") return { sent, why: error.message };
          await change(row.sha256, { problem: error.message }); // this one only; the others go on
        }
      }
      return { sent, why: "" };
    },

    /** Let pictures go when their record has gone: sent 30 days ago, or never held at all. */
    async tidy(records) {
      for (const row of await all()) {
        const gone = recordOf(records, row) === null;
        const never = !row.held && now() - Date.parse(row.taken_at) > DAY_MS;
        if (gone && (row.sent_epoch || never))
          await (await database()).delete("photos", row.sha256);
      }
    },
  };
}

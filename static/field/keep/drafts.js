/**
 * Half-filled forms, kept as they are typed and given back after a reload or a crash.
 *
 * A draft belongs to the person who typed it: {key, bare, by, by_name, values, href, title,
 * typed_at}. Drafts of earlier releases have no owner; they wait until somebody says "mine".
 * Writes go one after another, and only the newest of those waiting is written.
 */
export const ownKey = (bare, personId) => `${bare}|${personId}`;

export function makeDrafts(database) {
  let latest = null;
  let writing = null;

  async function write() {
    while (latest) {
      const draft = latest;
      latest = null;
      await (await database()).put("drafts", draft);
    }
    writing = null;
  }

  return {
    get: async (key) => (await database()).get("drafts", key),
    all: async () => (await database()).getAll("drafts"),
    discard: async (key) => {
      latest = null;
      await writing;
      await (await database()).delete("drafts", key);
    },
    /**
     * Resolves when this or a newer version is written. `more`: {href, title} to find it again,
     * {bare, by, by_name} whose it is.
     */
    keep(key, values, more) {
      latest = { key, values, ...more, typed_at: new Date().toISOString() };
      writing ??= write().catch((error) => {
        writing = null;
        throw error;
      });
      return writing;
    },
    /** Wait for the last write; call it before holding the entry, which deletes the draft. */
    settle: async () => {
      await writing;
    },
  };
}

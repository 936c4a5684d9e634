/**
 * Half-filled forms, kept as they are typed and given back after a reload or a crash.
 *
 * Writes go one after another, and only the newest of those waiting is written.
 */
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
     * Resolves when this or a newer version is written. `page`: {href, title} to find it again.
     */
    keep(key, values, page) {
      latest = { key, values, ...page, typed_at: new Date().toISOString() };
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

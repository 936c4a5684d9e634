/**
 * The phone's own database: records, drafts, and what is kept from the office.
 *
 * `openFieldDatabase` gives the same open database to everybody and opens it again when the
 * browser closed it (memory pressure, a newer page in another tab).
 */
import "../../vendor/idb-8.0.4/umd.js"; // the small build; it names itself on globalThis

const NAME = "sillbook";
const VERSION = 2;

let opening = null;

function forget() {
  opening = null;
}

export function openFieldDatabase() {
  opening ??= globalThis.idb
    .openDB(NAME, VERSION, {
      upgrade(db, from) {
        if (from < 1) {
          db.createObjectStore("entries", { keyPath: "id" });
          db.createObjectStore("drafts", { keyPath: "key" });
          db.createObjectStore("kept");
        }
        if (from < 2) db.createObjectStore("photos", { keyPath: "sha256" });
      },
      blocking(_current, _blocked, event) {
        event.target.close(); // a newer page wants to upgrade; this one opens again when needed
        forget();
      },
      terminated: forget,
    })
    .catch((error) => {
      forget();
      throw error;
    });
  return opening;
}

/**
 * An in-memory stand-in for the part of the `idb` interface that the modules use. Writes become
 * visible only when the transaction completes, which `completeNow` (or the next macrotask) does,
 * so that tests can tell "request succeeded" from "transaction complete".
 */
export function memoryDatabase({ hang = false, fail = null } = {}) {
  const stores = { entries: new Map(), drafts: new Map(), kept: new Map(), photos: new Map() };
  const keyPaths = { entries: "id", drafts: "key", photos: "sha256" };
  const opened = [];

  function transaction(names, mode = "readonly", options = {}) {
    const list = [names].flat();
    const copies = Object.fromEntries(list.map((name) => [name, new Map(stores[name])]));
    let finish;
    let refuse;
    let over = false;
    const done = new Promise((resolve, reject) => {
      finish = () => {
        if (over) return;
        over = true;
        if (fail) return reject(fail);
        for (const name of list) stores[name] = copies[name];
        resolve();
      };
      refuse = (error) => {
        over = true;
        reject(error);
      };
    });
    const objectStore = (name) => ({
      get: async (key) => structuredClone(copies[name].get(key)),
      getAll: async () => [...copies[name].values()].map((value) => structuredClone(value)),
      put: async (value, key) =>
        void copies[name].set(keyPaths[name] ? value[keyPaths[name]] : key, structuredClone(value)),
      delete: async (key) => void copies[name].delete(key),
    });
    const tx = {
      mode,
      options,
      objectStore,
      store: objectStore(list[0]),
      done,
      abort: () => refuse(new Error("aborted")),
      completeNow: finish,
    };
    opened.push(tx);
    if (!hang) setTimeout(finish, 0);
    return tx;
  }

  const db = {
    transaction,
    get: async (name, key) => structuredClone(stores[name].get(key)),
    getAll: async (name) => [...stores[name].values()].map((value) => structuredClone(value)),
    put: async (name, value, key) =>
      void stores[name].set(keyPaths[name] ? value[keyPaths[name]] : key, structuredClone(value)),
    delete: async (name, key) => void stores[name].delete(key),
  };
  return { open: async () => db, opened, stores: () => stores };
}

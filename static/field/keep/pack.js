/**
 * What the phone knows of the office: sites, dated ratings and gauge zeros, people, readings.
 *
 * The whole answer of GET /pack is kept as one value. A failed refresh leaves the old one in place.
 */
import { askOffice } from "./office.js";

export const KEY = "pack";
export const PERSON = "person"; // whose pack it is, apart: Save need not read all sites for it

/** Keep a pack and whose it is, in one transaction. */
export async function keepPack(database, pack) {
  const tx = (await database()).transaction("kept", "readwrite");
  const store = tx.objectStore("kept");
  await Promise.all([store.put(pack, KEY), store.put(pack.person, PERSON)]);
  await tx.done;
}

export function makePack(database, fetch) {
  return {
    read: async () => (await (await database()).get("kept", KEY)) ?? null,

    /** Fetch a new pack; throws NoAnswer and changes nothing when there is none. */
    async refresh() {
      const pack = await askOffice(fetch, "/pack");
      await keepPack(database, pack);
      return pack;
    },
  };
}

/** This phone's own id, made once. */
export async function phoneId(database, makeId) {
  const tx = (await database()).transaction("kept", "readwrite");
  const known = await tx.store.get("phone");
  const id = known ?? makeId();
  if (!known) await tx.store.put(id, "phone");
  await tx.done;
  return id;
}

/** For pages that work without a pack: nobody is known, nothing is hidden. */
export const NO_PACK = { person: { id: null, name: "" }, people: [], sites: [], demo: false };

export function findSite(pack, id) {
  return pack?.sites.find((site) => site.id === Number(id)) ?? null;
}

/** Returns {site, structure}, both null when the phone does not know it. */
export function findStructure(pack, id) {
  for (const site of pack?.sites ?? []) {
    const structure = site.structures.find((one) => one.id === Number(id));
    if (structure) return { site, structure };
  }
  return { site: null, structure: null };
}

/** The rating or gauge zero in force at an instant: the latest that is valid by then, or null. */
export function inForce(dated, at) {
  const instant = new Date(at).getTime();
  let best = null;
  for (const one of dated) {
    const from = Date.parse(one.valid_from);
    if (from <= instant && (best === null || from >= Date.parse(best.valid_from))) best = one;
  }
  return best;
}

/** Readings of a site from both sides: what the office knows, and what is still on this phone. */
import { stateWord } from "../base/states.js";

const isReading = (entry) => entry.kind === "head_reading";

/** The time of the last reading that stands; `stand` comes from standingHere(). */
export function lastReadingAt(site, records, stand) {
  const here = records.filter(({ entry }) => isReading(entry) && entry.site_id === site.id);
  const office = [...(site.recent ?? []), ...(site.set_aside ?? [])];
  const all = [...office, ...here.map(({ entry }) => entry)];
  return (
    all
      .filter(({ id }) => stand.stands(id))
      .map(({ observed_at }) => observed_at)
      .sort()
      .at(-1) ?? null
  );
}

/**
 * Newest first, each reading once: {id, structure_id, observed_at, occasion, by_name,
 * discharge_m3s, uncertainty_pct, flow, flags, state, record}. The office's figures win over the
 * preview. Only what stands is shown, by the office's rule.
 */
export function readings(site, records, reviewed, nameOf, stand) {
  const held = new Map(
    records
      .filter(({ entry }) => isReading(entry) && entry.site_id === site.id)
      .map((r) => [r.id, r]),
  );
  const office = [...site.recent, ...(site.set_aside ?? [])].map((one) => ({
    ...one,
    state: one.reviewed ? "reviewed" : "at the office",
    record: held.get(one.id) ?? null,
  }));
  const known = new Set(office.map((one) => one.id));
  const phone = [...held.values()]
    .filter((record) => !known.has(record.id) && record.state !== "replaced")
    .map((record) => fromRecord(record, stateWord(record, reviewed), nameOf));
  return [...office, ...phone]
    .filter((one) => stand.stands(one.id))
    .sort((a, b) => (a.observed_at < b.observed_at ? 1 : -1));
}

function fromRecord(record, state, nameOf) {
  const { entry } = record;
  const {
    discharge_m3s = null,
    uncertainty_pct = null,
    flow = "not rated",
    flags = [],
  } = entry.body.preview ?? {};
  return {
    id: record.id,
    structure_id: entry.structure_id,
    visit_id: entry.visit_id,
    observed_at: entry.observed_at,
    occasion: entry.body.occasion,
    by_name: nameOf(entry.by),
    discharge_m3s,
    uncertainty_pct,
    flow,
    flags,
    state,
    record,
  };
}

/** Visits held on this phone at a site, newest first, each with what stands for it; withdrawn ones are gone. */
export function visits(siteId, records, stand) {
  const mine = records.filter(
    (r) => r.entry.kind === "visit" && r.entry.site_id === siteId && r.state !== "replaced",
  );
  return mine
    .filter((r) => r.entry.corrects === null)
    .reverse()
    .map((record) => ({
      id: record.id,
      record,
      latest: mine.find((r) => r.id === stand.latest(record.id)) ?? record,
    }))
    .filter(({ id }) => stand.latest(id) !== null);
}

export const nameIn = (pack) => (id) =>
  pack.people.find((person) => person.id === id)?.name ?? `person ${id}`;

/** How long ago, in the largest fitting unit. */
export function ago(iso, now = new Date()) {
  if (!iso) return "never read";
  const minutes = Math.round((now - new Date(iso)) / 60000);
  if (minutes < 1) return "just now";
  if (minutes < 60) return `${minutes} min ago`;
  if (minutes < 36 * 60) return `${Math.round(minutes / 60)} h ago`;
  return `${Math.round(minutes / 1440)} days ago`;
}

/** The readings that the office has reviewed, by id. */
export function reviewedIds(pack) {
  const readings = (pack?.sites ?? []).flatMap((site) => site.recent ?? []);
  return new Set(readings.filter((one) => one.reviewed).map((one) => one.id));
}

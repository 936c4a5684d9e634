/** What was done in a visit, what is still open in it, and the head before and after the work. */
import { lengthText } from "../../shared/numbers.js";

const isHeld = ({ state }) => state !== "replaced";

/** The entries of a visit on this phone that stand or need a look, in the order of their times. */
export function doneIn(visitId, records, stand) {
  return records
    .filter(({ entry }) => entry.visit_id === visitId && entry.kind !== "withdrawal")
    .filter((record) => isHeld(record) && (record.state === "refused" || stand.stands(record.id)))
    .sort((a, b) => (a.entry.observed_at < b.entry.observed_at ? -1 : 1));
}

const mean = (figures) => figures.reduce((sum, one) => sum + one, 0) / figures.length;
const readingsOf = (done, structure, occasion) =>
  done.filter(
    ({ entry, state }) =>
      state !== "refused" &&
      entry.kind === "head_reading" &&
      entry.structure_id === structure.id &&
      entry.body.occasion === occasion,
  );

/** {words, href?} of everything that a person would be sorry to have left behind. */
export function stillOpen({ visit, site, done, drafts, personId }) {
  const { body } = visit.latest.entry;
  const open = [];
  if (!body.cautions_read) open.push({ words: "The cautions were not read" });
  for (const structure of site.structures) {
    const at = (occasion) =>
      `/field/reading?structure=${structure.id}&visit=${visit.id}&occasion=${occasion}`;
    const of = site.structures.length > 1 ? `, ${structure.name}` : "";
    const found = readingsOf(done, structure, "as_found").length > 0;
    if (!found) open.push({ words: `Not read as found${of}`, href: at("as_found") });
    if (!readingsOf(done, structure, "as_left").length)
      open.push({
        words: `Not read as left${of}: read before you go, also when nothing changed`,
        href: at("as_left"),
      });
    const file = done.some(
      ({ entry }) => entry.kind === "logger_file" && entry.structure_id === structure.id,
    );
    if (structure.loggers?.length && !file)
      open.push({
        words: `Logger not downloaded: ${structure.loggers.join(", ")}${of}`,
        href: `/field/logger?structure=${structure.id}&visit=${visit.id}`,
      });
  }
  const own = drafts.filter(
    ({ by, href }) =>
      by === personId && href.includes(`visit=${visit.id}`) && !href.startsWith("/field/visit"),
  );
  for (const { title, href } of own) open.push({ words: `Half filled: ${title}`, href });
  const refused = done.filter(({ state }) => state === "refused");
  for (const { id } of refused)
    open.push({ words: "Not accepted by the office: needs a look", href: `/field/outbox#${id}` });
  if (!body.ended_at && !body.hours)
    open.push({ words: "The end of the visit is not recorded", href: "#change" });
  return open;
}

/** The staff before and after the work at each structure, as words; unknown where nobody read. */
export function workWords({ visit, site, done }) {
  const works = visit.latest.entry.body.done ?? [];
  if (!works.length) return [];
  return site.structures.map((structure) => {
    const before = readingsOf(done, structure, "as_found").at(0);
    const after = readingsOf(done, structure, "as_left").at(-1);
    const staff = (record) => (record ? mean(record.entry.body.staff_m) : null);
    const said = (record) => (record ? lengthText(staff(record), site.head_unit) : "not read");
    const moved = before && after ? staff(after) - staff(before) : null;
    const change =
      moved === null
        ? ""
        : Math.abs(moved) < 0.0005
          ? ", unchanged"
          : `, ${lengthText(Math.abs(moved), site.head_unit)} ${moved < 0 ? "lower" : "higher"} after it`;
    const of = site.structures.length > 1 ? `${structure.name}: ` : "";
    return `${of}${works.join(", ")}. Staff before ${said(before)}, after ${said(after)}${change}.`;
  });
}

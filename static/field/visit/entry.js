/** A visit from the form's values to an entry, without the page. */

import { fromLocalBox } from "../../shared/format.js";
import { parseNumber } from "../../shared/numbers.js";
import { ahead } from "../typed/ahead.js";
import { box, text } from "../typed/text.js";

const LONGEST_H = 72;
const CLOSING = ["ended", "hours", "done"]; // what is known only when people leave

export function emptyVisit(id) {
  return {
    id,
    purpose: "",
    observers: "",
    conditions: [],
    note: "",
    cautions_read: false,
    ended: "",
    hours: "",
    done: [],
    reason: "",
  };
}

export function visitValues(entry, id) {
  const { ended_at, hours, done, purpose, observers, conditions, note, cautions_read } = entry.body;
  return {
    id,
    purpose,
    observers: observers.join(", "),
    conditions,
    note,
    cautions_read,
    ended: box(ended_at, entry.utc_offset_min),
    hours: text(hours),
    done: done ?? [],
    reason: "",
  };
}

/** Anything touched is worth keeping: the ticks too. */
export const isHalfFilled = (values) => Boolean(values.touched);

/** The end as typed; an end that nobody touched keeps its seconds. */
function endedAt(values, { site, visit, record }) {
  const held = (visit?.latest ?? record)?.entry.body.ended_at;
  if (held && box(held, site.utc_offset_min) === values.ended) return held;
  return fromLocalBox(values.ended, site.utc_offset_min);
}

const hoursOf = ({ hours }) => (hours?.trim() ? parseNumber(hours, { high: LONGEST_H }) : null);

/** Why a change is made; only to say how the visit ended needs no other reason. */
function reasonOf(values, { visit }) {
  const typed = values.reason.trim();
  if (typed || !visit) return typed;
  const before = visitValues(visit.latest.entry, values.id);
  const changed = Object.keys(before).filter((key) => String(values[key]) !== String(before[key]));
  const ends = changed.every((key) => CLOSING.includes(key) && !before[key].length);
  return changed.length && ends ? "end of the visit" : "";
}

/** What stands in the way of saving; empty when nothing does. */
export function visitProblem(values, { site, visit, record, now }) {
  if (!values.cautions_read)
    return "Read the cautions and look at the water first, then tick the box.";
  const hours = hoursOf(values);
  if (values.hours?.trim() && !(hours > 0 && hours <= LONGEST_H))
    return `Hours are a number such as 1.5, at most ${LONGEST_H}.`;
  const ended = endedAt(values, { site, visit, record });
  const began = (visit?.record ?? record)?.entry.observed_at ?? now;
  if (ended && Date.parse(ended) < Date.parse(began) - 60000)
    return "The visit ends before it began. Check the time.";
  const ends = ended ? ahead(ended, now, "The end of the visit") : "";
  if (ends) return ends;
  return visit && !reasonOf(values, { visit }) ? "Say why the visit is changed." : "";
}

/** `record` is the refused one that this puts right: it keeps when the visit began. */
export function visitEntry(values, { site, personId, visit, record, now }) {
  const first = visit?.record.entry;
  const began = first ?? record?.entry;
  return {
    id: values.id,
    kind: "visit",
    site_id: site.id,
    structure_id: null,
    visit_id: null,
    observed_at: began?.observed_at ?? now,
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: (visit?.latest ?? visit?.record)?.entry.id ?? record?.entry.corrects ?? null,
    reason: reasonOf(values, { visit }) || null,
    body: {
      purpose: values.purpose.trim(),
      observers: values.observers
        .split(",")
        .map((name) => name.trim())
        .filter(Boolean)
        .slice(0, 10),
      started_at: began?.body.started_at ?? now,
      conditions: values.conditions,
      note: values.note.trim(),
      cautions_read: values.cautions_read,
      ended_at: endedAt(values, { site, visit, record }),
      hours: hoursOf(values),
      done: values.done ?? [],
    },
  };
}

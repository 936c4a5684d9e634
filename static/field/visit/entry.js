/** A visit from the form's values to an entry, without the page. */

export function emptyVisit(id) {
  return {
    id,
    purpose: "",
    observers: "",
    conditions: [],
    note: "",
    cautions_read: false,
    reason: "",
  };
}

export function visitValues(entry, id) {
  const { purpose, observers, conditions, note, cautions_read } = entry.body;
  return {
    id,
    purpose,
    observers: observers.join(", "),
    conditions,
    note,
    cautions_read,
    reason: "",
  };
}

/** Anything touched is worth keeping: the ticks too. */
export const isHalfFilled = (values) => Boolean(values.touched);

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
    reason: values.reason.trim() || null,
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
    },
  };
}

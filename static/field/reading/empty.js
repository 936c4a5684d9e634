/** The values of a reading form before anything is typed, and whether anything is. */
/** An empty form. `id` is the entry's id from the first key on, so that saving twice saves once. */
export function emptyReading(id, unit, occasion) {
  return {
    id,
    unit,
    occasion,
    heads: [{ text: "", at: null }],
    kept: [], // figures the person said are right as typed
    dry: false, // and that nothing flows
    tail: "not_seen",
    tail_text: "",
    sensor_text: "",
    conditions: [],
    gate: "",
    time: "",
    time_reason: "",
    note: "",
    reason: "",
  };
}

/** Has anything been typed that would be missed? */
export function isHalfFilled(values) {
  const texts = [
    values.tail_text,
    values.sensor_text,
    values.note,
    values.gate,
    values.time,
    values.reason,
  ];
  return values.heads.some(({ text }) => text.trim()) || texts.some((text) => text.trim());
}

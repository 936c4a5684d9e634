/** The values of a reading form before anything is typed, and whether anything is. */
/** An empty form. `id` is the entry's id from the first key on, so that saving twice saves once. */
export function emptyReading(id, unit, occasion) {
  return {
    id,
    unit,
    occasion,
    heads: [{ text: "", at: null }],
    kept: [], // figures the person said are right as typed
    answers: [], // what was asked about a figure, and what the person said
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

export const MOST_ANSWERS = 40;
export const NOT_ANSWERED = "not answered"; // saved with its question open

/** Note what was asked about a figure, as typed in its unit, and the answer of one tap. */
export function noteAnswer(values, figure, typed, answer) {
  const said = { figure, typed: typed.trim(), unit: values.unit, answer };
  values.answers = [...values.answers, said].slice(-MOST_ANSWERS);
}

/** Take another unit: its figures are other figures, so no answer holds any more. */
export const inUnit = (values, unit) => Object.assign(values, { unit, kept: [], dry: false });

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

/** Figures of an entry as texts of a form's boxes. */
import { toLocalBox } from "./format.js";

export const text = (value) => (value === null || value === undefined ? "" : String(value));
/** Metres in the unit of the form, to a ten-thousandth of a millimetre: no figure is lost. */
export const length = (metres, unit) =>
  metres === null || metres === undefined ? "" : text(unit === "mm" ? Math.round(metres * 1e7) / 1e4 : metres);
export const box = (iso, utcOffsetMin) => (iso ? toLocalBox(iso, utcOffsetMin) : "");
/** With seconds, for a clock that shows them. */
export const boxSeconds = (iso, utcOffsetMin) =>
  iso ? new Date(Date.parse(iso) + utcOffsetMin * 60000).toISOString().slice(0, 19) : "";

/** When a record was observed: put right, it keeps its time, unless the time is what was wrong. */
export const observedAt = ({ record }, now) =>
  record?.refusal && record.refusal.field !== "observed_at" ? record.entry.observed_at : now;

/** Figures of an entry as texts of a form's boxes. */
import { toLocalBox } from "../../shared/format.js";
import { spelled } from "../../shared/numbers.js";

/** A figure is written so that it has one meaning: 1.251 comes back as 1.2510. */
export const text = (value) => (typeof value === "number" ? spelled(value) : String(value ?? ""));
const SMALLER = { mm: 1e4, cm: 1e5 };
/** Metres in the unit of the form, to a ten-thousandth of a millimetre: no figure is lost. */
export const length = (metres, unit) =>
  unit in SMALLER && typeof metres === "number"
    ? spelled(Math.round(metres * 1e7) / SMALLER[unit])
    : String(metres ?? "");
export const box = (iso, utcOffsetMin) => (iso ? toLocalBox(iso, utcOffsetMin) : "");
/** With seconds, for a clock that shows them. */
export const boxSeconds = (iso, utcOffsetMin) =>
  iso ? new Date(Date.parse(iso) + utcOffsetMin * 60000).toISOString().slice(0, 19) : "";

/** When an entry was observed: put right or corrected, it keeps its time, unless that is what was wrong. */
export const observedAt = ({ record }, now) =>
  record && record.refusal?.field !== "observed_at" ? record.entry.observed_at : now;

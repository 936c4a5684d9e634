/**
 * The instrument of the register that an observation is made with: those of a fitting kind first,
 * the one chosen last on this phone offered again, and whether it is in date said beside it.
 */
import { byId, el, fill, show } from "../../shared/dom.js";
import { toLocalBox } from "../../shared/format.js";

const KEY = "sillbook-instrument:";

/** Words for an instrument on a day (YYYY-MM-DD); the pack says its state on the day it was made. */
export function calibrationWords({ calibration, due_on }, day) {
  if (calibration === "in date" && due_on && due_on < day) return `overdue: was due ${due_on}`;
  if (calibration === "in date") return due_on ? `in date, next due ${due_on}` : "in date";
  if (calibration === "overdue" && due_on) return `overdue: was due ${due_on}`;
  return calibration === "unknown" ? "calibration unknown" : calibration;
}

export const isInDate = (one, day) => calibrationWords(one, day).startsWith("in date");

/** {fitting, others}: what the pack offers for an observation ("level_run" or a method). */
export function offered(pack, what, siteId) {
  const kinds = pack.made_with?.[what];
  const here = ({ site_id }) => (site_id === siteId ? 0 : 1);
  const all = [...(pack.instruments ?? [])].sort(
    (a, b) => here(a) - here(b) || a.name.localeCompare(b.name),
  );
  const fits = ({ kind }) => !kinds || kinds.includes(kind);
  return { fitting: all.filter(fits), others: all.filter((one) => !fits(one)) };
}

/** The id chosen last for such an observation, as text; "" when it is offered no more. */
export function remembered(pack, what, store) {
  try {
    const id = store.getItem(KEY + what) ?? "";
    return (pack.instruments ?? []).some((one) => String(one.id) === id) ? id : "";
  } catch {
    return ""; // a browser that keeps nothing
  }
}

export function remember(what, id, store) {
  try {
    store.setItem(KEY + what, id);
  } catch {
    // it is chosen again next time
  }
}

/**
 * Draw the choice of an instrument of the register and say what is known of the chosen one. Until
 * somebody chooses it is the one chosen last for `what`; the row is hidden where the register holds
 * nothing and nothing was chosen.
 */
export function drawInstrument(form, values, { pack, site }, what) {
  const [row, select, said] = [
    byId("instrument-row"),
    form.elements.instrument_id,
    byId("instrument-said"),
  ];
  const chosen = (values.instrument_id ??= remembered(pack, what, localStorage));
  const day = toLocalBox(new Date().toISOString(), site.utc_offset_min).slice(0, 10);
  const siteId = site.id;
  const { fitting, others } = offered(pack, what, siteId);
  const all = [...fitting, ...others];
  const one = all.find(({ id }) => String(id) === chosen);
  const option = (each) =>
    el(
      "option",
      { value: String(each.id) },
      isInDate(each, day) ? each.name : `${each.name} (${calibrationWords(each, day)})`,
    );
  show(row, all.length > 0 || Boolean(chosen));
  fill(
    select,
    el("option", { value: "" }, "none of the register"),
    chosen && !one ? el("option", { value: chosen }, `number ${chosen}, not offered now`) : null,
    fitting.map(option),
    others.length ? el("optgroup", { label: "Of another kind" }, others.map(option)) : null,
  );
  select.value = chosen;
  said.textContent = one ? calibrationWords(one, day) : "";
  said.className = one && !isInDate(one, day) ? "problem" : "aside";
}

/**
 * Quantities, times and distances as people read them. Numbers are rounded to their uncertainty.
 */

/** A number with so many decimals; negative ones round to tens (app/hydraulics/rating/uncertainty.py fixed). */
const fixed = (value, places) =>
  places < 0 ? String(Math.round(value * 10 ** places) / 10 ** places) : value.toFixed(places);

/** {value, unit, plusMinus, pct}: litres a second below one cubic metre a second. */
export function discharge(discharge_m3s, uncertainty_pct) {
  const litres = discharge_m3s < 1;
  const value = litres ? discharge_m3s * 1000 : discharge_m3s;
  const unit = litres ? "L/s" : "m\u00b3/s";
  if (uncertainty_pct === null || uncertainty_pct === undefined) {
    return { value: String(Number(value.toPrecision(3))), unit, plusMinus: null, pct: null };
  }
  const spread = (value * uncertainty_pct) / 100;
  const places = spread > 0 ? 1 - Math.floor(Math.log10(spread)) : 0; // two figures of the uncertainty
  return {
    value: fixed(value, places),
    unit,
    plusMinus: spread.toFixed(Math.max(places, 0)),
    pct: uncertainty_pct.toFixed(uncertainty_pct < 9.95 ? 1 : 0),
  };
}

/** One line: "38.5 L/s ± 1.7 (4.3 %)". */
export function dischargeLine(discharge_m3s, uncertainty_pct) {
  if (discharge_m3s === null || discharge_m3s === undefined) return "no discharge";
  const said = discharge(discharge_m3s, uncertainty_pct);
  if (said.plusMinus === null) return `${said.value} ${said.unit}, uncertainty unknown`;
  if (discharge_m3s === 0) return "0 L/s";
  return `${said.value} ${said.unit} \u00b1 ${said.plusMinus} (${said.pct} %)`;
}

export function millimetres(metres, digits = 1) {
  return `${fixed(metres * 1000, digits).replace(/^-(?=[0.]+$)/, "")} mm`;
}

/** A date shifted to the site's fixed clock; read it with the getUTC methods. */
function siteClock(iso, utcOffsetMin) {
  return new Date(new Date(iso).getTime() + utcOffsetMin * 60000);
}

export function offsetWords(utcOffsetMin) {
  const size = Math.abs(utcOffsetMin);
  const hours = String(Math.floor(size / 60)).padStart(2, "0");
  const minutes = String(size % 60).padStart(2, "0");
  return `UTC${utcOffsetMin < 0 ? "\u2212" : "+"}${hours}:${minutes}`;
}

/** "2026-11-25 09:15" on the site's clock. */
export function siteTime(iso, utcOffsetMin) {
  return siteClock(iso, utcOffsetMin).toISOString().slice(0, 16).replace("T", " ");
}

/** The value of a datetime-local box for an instant, and back. */
export function toLocalBox(iso, utcOffsetMin) {
  return siteClock(iso, utcOffsetMin).toISOString().slice(0, 16);
}

export function fromLocalBox(text, utcOffsetMin) {
  if (!text) return null;
  const clock = new Date(`${text.slice(0, 16)}:00.000Z`);
  if (Number.isNaN(clock.getTime())) return null;
  return new Date(clock.getTime() - utcOffsetMin * 60000).toISOString();
}

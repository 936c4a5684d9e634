/**
 * In which unit the staffs of a site are read: what the office says, until somebody chose another
 * on this phone. A later word of the office counts again.
 */
const NEXT = { mm: "cm", cm: "m", m: "mm" };
const keyOf = (site) => `sillbook-staff-unit-${site.id}`;

export const nextUnit = (unit) => NEXT[unit] ?? "mm";

export function unitOf(site, storage = localStorage) {
  try {
    const [said, chosen] = (storage.getItem(keyOf(site)) ?? "").split(" ");
    return said === site.head_unit && chosen in NEXT ? chosen : site.head_unit;
  } catch {
    return site.head_unit; // blocked storage
  }
}

export function rememberUnit(site, unit, storage = localStorage) {
  try {
    storage.setItem(keyOf(site), `${site.head_unit} ${unit}`);
  } catch {
    // blocked storage: the unit holds for this form only
  }
}

/** A value that a person can put right: field, value, rule and remedy, in the server's words. */
export class BadInput extends Error {
  constructor(field, value, rule, remedy) {
    const shown = typeof value === "number" ? Number(value.toPrecision(6)) : value;
    super(`${field} ${shown}: ${rule}. ${remedy}`);
    Object.assign(this, { name: "BadInput", field, value, rule, remedy });
  }
}

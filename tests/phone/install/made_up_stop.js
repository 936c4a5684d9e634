/** A stop as somebody fills it in on the phone; invented figures. */
import { emptyStop } from "../../../static/field/install/entry.js";

export const STOP = {
  key: "S5",
  asks: [{ key: "even", text: "Both sides filled evenly" }],
  parts: ["moment", "lift", "box", "concrete", "corners", "widths", "delivered", "creep", "tail"],
};

export const typed = (fields = {}, changes = {}) => {
  const empty = emptyStop("id-1", "S5");
  return { ...empty, ...changes, fields: { ...empty.fields, ...fields } };
};

export const CORNERS = {
  reference: "BM1",
  reference_rl_m: "100",
  backsight_m: "1,342",
  corner_ul: "2.118",
  corner_ur: "2.119",
  corner_dl: "2.117",
  corner_dr: "2.118",
};

export const BOX = {
  length_m: "2.4",
  width_m: "0.9",
  water_depth_m: "0.5",
  concrete_depth_m: "0.15",
  mass_kg: "120",
};

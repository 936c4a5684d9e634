/** A portable plate or flume set in the race: rated by its table from the office, or by its own. */
import { BadInput } from "../../../shared/bad_input.js";
import { el, fill } from "../../../shared/dom.js";
import { thresholds } from "../../base/thresholds.js";
import { knownGauging } from "../../sums/gaugings.js";
import { previewFlow } from "../../sums/preview.js";
import { asked, figure, figures, typed, typedList } from "../figures.js";
import { figureBox, figureList, more, textBox, tick } from "../inputs.js";

const limits = thresholds.gaugings;

const OWN = "own";

export const key = "portable";
export const title = "Portable plate or flume";
export const hint = "A portable device set in the race, up to about 50 L/s. 3 to 5 %.";
export const wading = true;

export const empty = () => ({
  device: "",
  heads: [""],
  free: false,
  headMm: "",
  described: "",
  flow: "",
  pct: "",
});

export function draw(box, part, { changed, pack }) {
  const set = (name) => (text) => {
    part[name] = text;
    changed();
  };
  const devices = pack.portable ?? [];
  const select = el(
    "select",
    { name: "device", "aria-label": "Portable device" },
    el("option", { value: "" }, "Choose the device"),
    devices.map((one) => el("option", { value: one.key }, one.label)),
    el("option", { value: OWN }, "Another one, with its own table"),
  );
  select.value = part.device;
  const inner = el("div", { class: "list" });
  const redraw = () => {
    const device = devices.find((one) => one.key === part.device);
    fill(
      inner,
      device
        ? deviceBoxes(part, device, set, changed)
        : part.device === OWN
          ? ownBoxes(part, set)
          : null,
    );
  };
  select.addEventListener("change", () => {
    part.device = select.value;
    redraw();
    changed();
  });
  redraw();
  fill(
    box,
    el(
      "p",
      { class: "aside" },
      "Set it level, seal round it, let the pool fill, and leave a free drop behind it. Water that passes beside or under it is not measured.",
    ),
    select,
    inner,
  );
}

function deviceBoxes(part, device, set, changed) {
  const { head_min_m, head_max_m } = device.table;
  return [
    el(
      "p",
      { class: "aside" },
      `${device.described}. Heads ${(head_min_m * 1000).toFixed(0)} to ${(head_max_m * 1000).toFixed(0)} mm.`,
    ),
    figureList({
      label: "Head over its own zero",
      unit: "mm",
      list: part.heads,
      name: "heads_mm",
      changed,
    }).part,
    tick({ label: "A free drop is visible behind it", checked: part.free, set: set("free") }),
    more(
      "Uncertainty of its head",
      figureBox({
        label: "Head, k = 2",
        unit: "mm",
        value: part.headMm,
        name: "head_uncertainty_mm",
        hint: "2 mm when empty (common practice)",
        set: set("headMm"),
      }),
    ),
  ];
}

function ownBoxes(part, set) {
  return [
    textBox({
      label: "Which device",
      value: part.described,
      name: "described",
      set: set("described"),
    }),
    figureBox({
      label: "Discharge by its table",
      unit: "L/s",
      value: part.flow,
      name: "discharge_l_s",
      set: set("flow"),
    }),
    figureBox({
      label: "Uncertainty by its table, k = 2",
      unit: "%",
      value: part.pct,
      name: "uncertainty_pct",
      set: set("pct"),
    }),
  ];
}

export const begun = (part) =>
  [part.flow, part.described, part.pct, ...part.heads].some((text) => text.trim());

export function observed(part, pack) {
  const device = (pack.portable ?? []).find((one) => one.key === part.device);
  if (!device) {
    return {
      method: key,
      device: null,
      heads_mm: [],
      head_uncertainty_mm: null,
      free_seen: false,
      described: part.described.trim(),
      discharge_l_s: typed(part.flow),
      uncertainty_pct: typed(part.pct),
    };
  }
  return {
    method: key,
    device: { key: device.key, family: device.family, dims: device.dims },
    heads_mm: typedList(part.heads),
    head_uncertainty_mm: typed(part.headMm),
    free_seen: part.free,
    described: `${device.label}: ${device.described}`.slice(0, 200),
    discharge_l_s: null,
    uncertainty_pct: null,
  };
}

export function fromObserved(seen) {
  return {
    ...empty(),
    device: seen.device?.key ?? OWN,
    heads: seen.heads_mm.map(String),
    free: seen.free_seen,
    headMm: String(seen.head_uncertainty_mm ?? ""),
    described: seen.described,
    flow: String(seen.discharge_l_s ?? ""),
    pct: String(seen.uncertainty_pct ?? ""),
  };
}

export function work(seen, pack) {
  if (!seen.device) {
    return knownGauging({
      method: "portable device, its own table",
      discharge_m3s: figure("discharge_l_s", seen.discharge_l_s) * 0.001,
      uncertainty_pct: figure("uncertainty_pct", seen.uncertainty_pct),
    });
  }
  const heads = figures("heads_mm", seen.heads_mm).map((each) => each / 1000);
  if (heads.length === 0)
    throw new BadInput("heads_mm", "none", "needs a head", "Read the head of the portable device.");
  const spread_mm = asked(seen, "head_uncertainty_mm") ?? limits.portable_head_m * 1000;
  if (spread_mm < 0)
    throw new BadInput(
      "head_uncertainty_mm",
      spread_mm,
      "must not be below zero",
      "Leave it out for 2.",
    );
  const headUncertainty_m = spread_mm / 1000;
  const device = (pack.portable ?? []).find((one) => one.key === seen.device.key);
  if (!device)
    throw new BadInput(
      "device",
      seen.device.key,
      "is not on this phone",
      "The office works it out; save it as it is.",
    );
  const head_m = heads.reduce((total, each) => total + each, 0) / heads.length;
  const rated = previewFlow(device.table, { head_m, headUncertainty_m, freeSeen: seen.free_seen });
  if (!(rated.discharge_m3s > 0))
    throw new BadInput(
      "heads_mm",
      `${Number((head_m * 1000).toPrecision(6))} mm`,
      `the portable device gives no discharge: ${rated.flow}`,
      "Read its head again, over its own zero.",
    );
  const found = knownGauging({
    method: "portable device",
    discharge_m3s: rated.discharge_m3s,
    uncertainty_pct: rated.uncertainty_pct,
  });
  const { device_pct, head_pct, range_pct } = rated.parts;
  const flags = [
    ...rated.flags,
    ...(rated.flow === "assumed free" ? ["portable device: free drop not seen"] : []),
  ];
  return {
    ...found,
    parts: { device: device_pct, head: head_pct, ...(range_pct ? { range: range_pct } : {}) },
    flags,
  };
}

export function picture(box) {
  fill(box);
}

/** Salt dilution by one gulp: dose, calibration at the site, and the trace of one or two probes. */
import { BadInput } from "../../../shared/bad_input.js";
import { el, fill } from "../../../shared/dom.js";
import { drawTrace } from "../../../shared/gauging_picture.js";
import { parseNumber } from "../../../shared/numbers.js";
import { calibrationFactor, gulp, saltMassKg } from "../../sums/gaugings.js";
import { asked, blank, figures, options, typed } from "../figures.js";
import { button, choice, figureBox, more } from "../inputs.js";
import { nextLine, readTrace } from "./trace.js";

const DOSE_PCT = 1; // the server's; a mass weighed on a good scale, common practice

export const key = "dilution_gulp";
export const title = "Salt dilution, gulp";
export const hint =
  "Salt thrown in at once, conductivity read downstream. Rough, turbulent water, 3 to 7 %.";
export const wading = false;

export const empty = () => ({
  dose: "mass",
  mass: "",
  volume: "",
  strength: "",
  points: [],
  factor: "",
  factorPct: "",
  dosePct: "",
  text: "",
  from: "typed",
  file: null,
  interval: "5",
  next: "",
  nextSecond: "",
  background: "",
  backgroundEnd: "",
});

export function draw(box, part, { changed, ratedFlow }) {
  const salt = el("p", { class: "aside" });
  const tell = () => (salt.textContent = saltHint(ratedFlow()));
  const set = (name) => (text) => {
    part[name] = text;
    changed();
  };
  fill(
    box,
    el(
      "p",
      { class: "aside" },
      "Pour well upstream: 25 widths or more, no dead water between (from memory). Ask whether salt may be used here.",
    ),
    salt,
    doseBoxes(part, set, changed),
    calibrationBoxes(part, set, changed),
    traceBoxes(part, set, changed),
    el(
      "fieldset",
      {},
      el("legend", {}, "Background of the water"),
      el(
        "div",
        { class: "two" },
        figureBox({
          label: "Background before",
          unit: "\u00b5S/cm",
          value: part.background,
          name: "background_us_cm",
          hint: "Empty: the readings before the rise",
          set: set("background"),
        }),
        figureBox({
          label: "Background after",
          unit: "\u00b5S/cm",
          value: part.backgroundEnd,
          name: "background_end_us_cm",
          hint: "Empty: the level end of the trace",
          set: set("backgroundEnd"),
        }),
      ),
      el(
        "p",
        { class: "hint" },
        "Keep reading until the water is level again: a drift of 1 % can move the discharge by more than 5 %.",
      ),
    ),
    more(
      "Uncertainty of the dose",
      figureBox({
        label: "Dose, k = 2",
        unit: "%",
        value: part.dosePct,
        name: "dose_uncertainty_pct",
        hint: "1 % when empty (common practice)",
        set: set("dosePct"),
      }),
    ),
  );
  return { tell };
}

function saltHint(flow) {
  if (!(flow > 0)) return "";
  const grams = saltMassKg({ discharge_m3s: flow }) * 1000;
  return `By the rating ${(flow * 1000).toPrecision(3)} L/s pass now: about ${Number(grams.toPrecision(2))} g of salt (10 kg for 1 m\u00b3/s, Morgenschweis 2010).`;
}

function doseBoxes(part, set, changed) {
  const inner = el("div", { class: "list" });
  const redraw = () =>
    fill(
      inner,
      part.dose === "mass"
        ? figureBox({
            label: "Salt, dry",
            unit: "g",
            value: part.mass,
            name: "mass_g",
            set: set("mass"),
          })
        : el(
            "div",
            { class: "two" },
            figureBox({
              label: "Solution",
              unit: "L",
              value: part.volume,
              name: "volume_l",
              set: set("volume"),
            }),
            figureBox({
              label: "Strength",
              unit: "g/L",
              value: part.strength,
              name: "concentration_g_l",
              set: set("strength"),
            }),
          ),
    );
  redraw();
  return el(
    "div",
    { class: "list" },
    choice({
      legend: "Dose",
      name: "dose",
      options: [
        ["mass", "by mass"],
        ["solution", "as a solution"],
      ],
      value: part.dose,
      set: (value) => {
        part.dose = value;
        redraw();
        changed();
      },
    }),
    inner,
  );
}

function calibrationBoxes(part, _set, changed) {
  const rows = el("div", { class: "list" });
  const said = el("p", { class: "sums", id: "calibration-said" });
  const tell = () => (said.textContent = calibrationWords(part));
  const heard = () => {
    tell();
    changed();
  };
  const redraw = () =>
    fill(
      rows,
      part.points.map((each, i) =>
        el(
          "div",
          { class: "two" },
          figureBox({
            label: `Point ${i + 1}, added`,
            unit: "mg/L",
            value: each.concentration,
            name: "concentration_mg_l",
            set: (text) => {
              each.concentration = text;
              heard();
            },
          }),
          figureBox({
            label: "reads",
            unit: "\u00b5S/cm",
            value: each.conductivity,
            name: "conductivity",
            set: (text) => {
              each.conductivity = text;
              heard();
            },
          }),
        ),
      ),
    );
  redraw();
  tell();
  return el(
    "fieldset",
    {},
    el("legend", {}, "Calibration at the site"),
    rows,
    el(
      "div",
      { class: "beside" },
      button("Add a calibration point", () => {
        part.points.push({ concentration: "", conductivity: "" });
        redraw();
        rows.lastElementChild.querySelector("input").focus();
        heard();
      }),
    ),
    said,
    more(
      "A factor found elsewhere",
      figureBox({
        label: "Factor",
        unit: "mg/L for 1 \u00b5S/cm",
        value: part.factor,
        name: "factor_mg_l_per_us_cm",
        hint: "Used when there are no calibration points; 0.486 when empty (Richardson and others 2017)",
        set: (text) => {
          part.factor = text;
          heard();
        },
      }),
      figureBox({
        label: "Its uncertainty, k = 2",
        unit: "%",
        value: part.factorPct,
        name: "factor_uncertainty_pct",
        set: (text) => {
          part.factorPct = text;
          heard();
        },
      }),
    ),
  );
}

function calibrationWords(part) {
  const points = pointsOf(part);
  if (points.length === 0) return "Without calibration the default factor is used and flagged.";
  try {
    const { factor, uncertainty_pct, r_squared } = calibrate(points);
    return `Factor ${factor.toFixed(4)} mg/L for 1 \u00b5S/cm \u00b1 ${uncertainty_pct.toFixed(1)} %, r\u00b2 ${r_squared.toFixed(4)}`;
  } catch (error) {
    return `${error.rule}. ${error.remedy}`;
  }
}

function traceBoxes(part, set, changed) {
  const area = el("textarea", {
    rows: "6",
    class: "trace-text",
    name: "trace_text",
    spellcheck: "false",
    "aria-label": "Trace, one reading a line: seconds, conductivity, second probe",
  });
  area.value = part.text;
  area.addEventListener("input", () => {
    part.text = area.value;
    changed();
  });
  area.addEventListener("paste", () => {
    part.from = "pasted";
  });
  const next = figureBox({
    label: "Next reading",
    unit: "\u00b5S/cm",
    value: part.next,
    set: set("next"),
  });
  const second = figureBox({
    label: "Second probe",
    unit: "\u00b5S/cm",
    value: part.nextSecond,
    set: set("nextSecond"),
  });
  const file = el("input", {
    type: "file",
    accept: ".csv,.txt,.tsv,text/csv,text/plain",
    "aria-label": "File of the logger",
  });
  file.addEventListener("change", async () => {
    const [chosen] = file.files;
    if (!chosen) return;
    part.text = area.value = (await chosen.text()).slice(0, 200000);
    Object.assign(part, { from: "file", file: chosen.name.slice(0, 200) });
    changed();
  });
  const add = () => {
    const every_s = blank(part.interval) ? 5 : parseNumber(part.interval);
    if (parseNumber(part.next) === null || every_s === null) return changed();
    part.text = area.value = nextLine(part.text, every_s, part.next, part.nextSecond);
    Object.assign(part, { next: "", nextSecond: "" });
    for (const label of [next, second]) label.querySelector("input").value = "";
    next.querySelector("input").focus();
    area.scrollTop = area.scrollHeight;
    return changed();
  };
  return el(
    "fieldset",
    {},
    el("legend", {}, "Trace"),
    el(
      "div",
      { class: "two" },
      figureBox({ label: "Every", unit: "s", value: part.interval, set: set("interval") }),
      next,
    ),
    second,
    el("div", { class: "beside" }, button("Add the reading", add)),
    el(
      "label",
      { class: "field" },
      el("span", {}, "Or paste it here: seconds and \u00b5S/cm, one reading a line"),
      area,
    ),
    el("label", { class: "field" }, "Or from a file", file),
  );
}

const pointsOf = (part) =>
  part.points
    .filter(({ concentration, conductivity }) => !blank(concentration) || !blank(conductivity))
    .map(({ concentration, conductivity }) => ({
      concentration_mg_l: concentration.trim(),
      conductivity_us_cm: conductivity.trim(),
    }));

const calibrate = (points) =>
  calibrationFactor({
    concentration_mg_l: figures(
      "concentration_mg_l",
      points.map((each) => each.concentration_mg_l),
    ),
    conductivity_us_cm: figures(
      "conductivity_us_cm",
      points.map((each) => each.conductivity_us_cm),
    ),
  });

/** The trace stands in one box; a calibration point in two of a row. */
export function boxOf(box, _part, [field, index, more]) {
  if (["time_s", "conductivity_us_cm", "second_us_cm", "trace_from", "file_name"].includes(field))
    return box.querySelector('[name="trace_text"]');
  if (field !== "calibration") return null;
  const name = more === "conductivity_us_cm" ? "conductivity" : "concentration_mg_l";
  return box.querySelectorAll(`[name="${name}"]`)[index ?? 0] ?? null;
}

export const begun = (part) =>
  Boolean(part.text.trim()) ||
  [part.mass, part.volume, part.next, part.background, part.backgroundEnd].some((text) =>
    text.trim(),
  ) ||
  part.points.length > 0;

export function observed(part) {
  let read = { time_s: [], trace: [], second: null };
  let problem = null;
  try {
    read = readTrace(part.text);
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    problem = error;
  }
  const mass = part.dose === "mass";
  const seen = {
    method: key,
    mass_g: mass ? typed(part.mass) : null,
    volume_l: mass ? null : typed(part.volume),
    concentration_g_l: mass ? null : typed(part.strength),
    time_s: read.time_s,
    conductivity_us_cm: read.trace,
    second_us_cm: read.second,
    trace_text: part.text,
    trace_from: part.from,
    file_name: part.file,
    background_us_cm: typed(part.background),
    background_end_us_cm: typed(part.backgroundEnd),
    calibration: pointsOf(part),
    factor_mg_l_per_us_cm: typed(part.factor),
    factor_uncertainty_pct: typed(part.factorPct),
    dose_uncertainty_pct: typed(part.dosePct),
  };
  // carried beside the entry, never in it: the phone says what is wrong with the text
  Object.defineProperty(seen, "problem", { value: problem, enumerable: false });
  return seen;
}

export function fromObserved(seen) {
  const text =
    seen.trace_text ||
    seen.time_s
      .map((at, i) =>
        [at, seen.conductivity_us_cm[i], seen.second_us_cm?.[i]]
          .filter((each) => each !== undefined)
          .join("; "),
      )
      .join("\n");
  return {
    ...empty(),
    dose: seen.volume_l === null ? "mass" : "solution",
    mass: String(seen.mass_g ?? ""),
    volume: String(seen.volume_l ?? ""),
    strength: String(seen.concentration_g_l ?? ""),
    text,
    from: seen.trace_from,
    file: seen.file_name,
    points: seen.calibration.map((each) => ({
      concentration: String(each.concentration_mg_l),
      conductivity: String(each.conductivity_us_cm),
    })),
    factor: String(seen.factor_mg_l_per_us_cm ?? ""),
    factorPct: String(seen.factor_uncertainty_pct ?? ""),
    dosePct: String(seen.dose_uncertainty_pct ?? ""),
    background: String(seen.background_us_cm ?? ""),
    backgroundEnd: String(seen.background_end_us_cm ?? ""),
  };
}

export function work(seen) {
  if (seen.problem) throw seen.problem;
  const strength = asked(seen, "concentration_g_l");
  const { factor, uncertainty_pct } = seen.calibration.length
    ? calibrate(seen.calibration)
    : {
        factor: asked(seen, "factor_mg_l_per_us_cm"),
        uncertainty_pct: asked(seen, "factor_uncertainty_pct"),
      };
  return gulp({
    time_s: seen.time_s,
    trace: seen.conductivity_us_cm,
    second_trace: seen.second_us_cm,
    mass_g: asked(seen, "mass_g"),
    volume_l: asked(seen, "volume_l"),
    concentration_mg_l: strength === null ? null : strength * 1000,
    factor,
    factor_uncertainty_pct: uncertainty_pct,
    background: asked(seen, "background_us_cm"),
    background_end: asked(seen, "background_end_us_cm"),
    dose_uncertainty_pct: options(seen, "dose_uncertainty_pct").dose_uncertainty_pct ?? DOSE_PCT,
  });
}

export function picture(box, seen, result) {
  if (seen.time_s.length < 2) return fill(box);
  return drawTrace(box, {
    time_s: seen.time_s,
    trace: seen.conductivity_us_cm,
    second: seen.second_us_cm,
    background: result ? [result.background, result.background_end] : null,
  });
}

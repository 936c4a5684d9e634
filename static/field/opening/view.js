/** What the opening page shows: gate steps, heads with their discharge, steadiness, sensor, clock. */

import { address, byId, el, fill } from "../../shared/dom.js";
import { dischargeLine, siteTime } from "../../shared/format.js";
import { lengthText } from "../../shared/numbers.js";
import { clockWords as wordsOf } from "../base/clock_words.js";
import { inForce } from "../keep/pack.js";
import { clockErrors, rateHead, sensorFigure } from "./entry.js";

const DASH = "\u2013";

/** `takeBack(list, index)` is called when a step or a reading is taken back. */
export function drawOpening(values, place, steady, takeBack) {
  const clock = (iso) => siteTime(iso, place.site.utc_offset_min).slice(11);
  fill(
    byId("gate-list"),
    values.gate.map((step, i) => gateRow(step, clock(step.at), () => takeBack("gate", i))),
  );
  fill(
    byId("head-list"),
    values.heads.map((head, i) =>
      headRow(head, clock(head.at), values, place, () => takeBack("heads", i)),
    ),
  );
  fill(
    byId("steady"),
    values.heads.length
      ? steadyWords(steady)
      : "Read every minute or two. Three readings over two minutes or more can show a steady head.",
  );
  byId("sensor-said").textContent = sensorWords(
    values,
    inForce(place.structure.gauge_zeros, new Date().toISOString()),
  );
  byId("clock-said").textContent = clockWords(values, place, clock);
  drawGaugings(values, place);
}

function gateRow({ opening }, time, takeBack) {
  const words = `Take back ${opening}`;
  return el(
    "li",
    { class: "line" },
    el("span", {}, `${time} \u00b7 ${opening}`),
    el("button", { type: "button", onclick: takeBack, "aria-label": words }, "Take back"),
  );
}

function headRow(head, time, { unit }, { structure }, takeBack) {
  const flow = rateHead(head, structure)?.flow;
  const line =
    flow?.discharge_m3s == null
      ? (flow?.flow ?? DASH)
      : dischargeLine(flow.discharge_m3s, flow.uncertainty_pct);
  const words = `Take back the reading of ${time}`;
  return el(
    "tr",
    {},
    el("td", {}, el("button", { type: "button", onclick: takeBack, "aria-label": words }, time)),
    el("td", {}, lengthText(head.staff_m, unit)),
    el("td", {}, head.tail_staff_m === null ? DASH : lengthText(head.tail_staff_m, unit)),
    el("td", {}, line.replace(/ \(.*/, "")),
  );
}

function steadyWords({ word, reason, wait_min }) {
  const wait = wait_min ? ` Wait about ${Math.ceil(wait_min)} min.` : "";
  return [el("strong", {}, word === "unknown" ? "not known yet" : word), `${reason}.${wait}`];
}

function sensorWords({ sensor_staff, sensor_before, sensor_after, unit }, zero) {
  const staff = sensorFigure(sensor_staff, unit);
  if (staff === null) return "";
  if (!zero)
    return "No gauge zero: the head over the crest is not known, so the sensor cannot be compared.";
  const head = staff + zero.offset_m;
  const apart = (text) => {
    const shown = sensorFigure(text, unit);
    return shown === null
      ? "not read"
      : `${((shown - head) * 1000).toFixed(1).replace("-", "\u2212")} mm from the staff`;
  };
  return `Head by the staff ${lengthText(head, unit)}. Before: ${apart(sensor_before)}. After: ${apart(sensor_after)}.`;
}

function clockWords(values, { site }, clock) {
  if (!values.clock_right) return "";
  const { before_s, after_s } = clockErrors(values, site.utc_offset_min);
  const words = (seconds) => {
    if (seconds === null) return "not read";
    return wordsOf(seconds);
  };
  return `Right time ${clock(values.clock_right)}. Before: ${words(before_s)}. After: ${words(after_s)}.`;
}

function drawGaugings(values, { gaugings, structure, site, visitId }) {
  const tick = ({ id, entry }) => {
    const box = el("input", {
      type: "checkbox",
      name: "gauging",
      value: id,
      checked: values.gaugings.includes(id),
    });
    const words = `${entry.body.method ?? "gauging"} ${siteTime(entry.observed_at, site.utc_offset_min)}`;
    return el("label", { class: "tick" }, box, el("span", {}, words));
  };
  const none = el(
    "p",
    { class: "aside" },
    "None on this phone yet. Gauge at two or three flows once the head is steady.",
  );
  fill(
    byId("gaugings"),
    gaugings.length ? gaugings.map(tick) : none,
    el(
      "a",
      {
        class: "button",
        href: address("/field/gauging", { structure: structure.id, visit: visitId }),
      },
      "Gauge the flow",
    ),
  );
}

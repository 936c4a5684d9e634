// Staff minus sensor over the years with the limits of acceptance, and the preview of a correction.
import { ACCENT, BAD_PAPER, INK, PAPER, QUIET, SOFT, WARN_PAPER } from "./charts/colours.js";
import { legendLine, svgEl } from "./charts/nodes.js";
import { ask, axis, plotIn, siteClock, siteText, timeValues } from "./charts/plot.js";
import { saveButtons } from "./charts/save.js";

const checks = document.querySelector("[data-checks]");
const preview = document.querySelector("[data-preview]");

function shades(u, bands, top) {
  const pen = u.ctx;
  pen.save();
  pen.beginPath();
  pen.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  pen.clip();
  pen.font = `${12 * devicePixelRatio}px system-ui, sans-serif`;
  bands.forEach((band, k) => {
    const over = band.over_mm;
    const to = Math.min(bands[k + 1]?.over_mm ?? top, top);
    if (over >= top) return;
    for (const side of [1, -1]) {
      const a = u.valToPos(side * over, "y", true);
      const b = u.valToPos(side * to, "y", true);
      pen.fillStyle = [PAPER, SOFT, WARN_PAPER, BAD_PAPER][Math.min(k, 3)];
      pen.fillRect(u.bbox.left, Math.min(a, b), u.bbox.width, Math.abs(b - a));
      pen.fillStyle = QUIET;
      if (side === 1 && Math.abs(a - b) > 14 * devicePixelRatio)
        pen.fillText(band.key, u.bbox.left + 6 * devicePixelRatio, a - 4 * devicePixelRatio);
    }
  });
  pen.restore();
}

function dots(u, k, filled) {
  const pen = u.ctx;
  const r = 4.5 * devicePixelRatio;
  pen.save();
  pen.lineWidth = 1.8 * devicePixelRatio;
  [pen.strokeStyle, pen.fillStyle] = [filled ? ACCENT : INK, ACCENT];
  u.data[k].forEach((value, at) => {
    if (!Number.isFinite(value)) return;
    pen.beginPath();
    pen.arc(u.valToPos(u.data[0][at], "x", true), u.valToPos(value, "y", true), r, 0, 2 * Math.PI);
    if (filled) pen.fill();
    else pen.stroke();
  });
  pen.restore();
}

const svgDots = (u) =>
  [1, 2].flatMap((k) =>
    u.data[k].map((value, at) =>
      Number.isFinite(value)
        ? svgEl("circle", {
            cx: u.valToPos(u.data[0][at], "x"),
            cy: u.valToPos(value, "y"),
            r: 3.5,
            fill: k === 2 ? ACCENT : "none",
            stroke: k === 2 ? ACCENT : INK,
          })
        : svgEl("g"),
    ),
  );

async function drawChecks() {
  const place = checks.querySelector("[data-plot]");
  const found = await ask(checks.dataset.checks);
  const known = [...found.offset_mm, ...found.left_mm].filter((v) => v !== null);
  const limit =
    Math.max(
      6,
      ...found.bands.map((b) => b.over_mm).filter((mm) => mm <= 6),
      ...known.map(Math.abs),
    ) * 1.15;
  const [a, b] = [found.t[0], found.t.at(-1)];
  const margin = Math.max((b - a) * 0.03, 86400);
  const readout = checks.querySelector("[data-readout]");
  const plot = plotIn(
    place,
    {
      height: 260,
      tzDate: siteClock(found.utc_offset_min),
      scales: {
        x: { time: true, range: () => [a - margin, b + margin] },
        y: { range: () => [-limit, limit] },
      },
      cursor: { drag: { x: false, y: false }, points: { show: false } },
      axes: [
        axis({ values: timeValues, size: 50 }),
        axis({ label: "Staff minus sensor, mm", size: 56, labelSize: 22 }),
      ],
      series: [
        {},
        { paths: () => null, points: { show: false } },
        { paths: () => null, points: { show: false } },
      ],
      hooks: {
        drawClear: [(u) => shades(u, found.bands, limit)],
        draw: [
          (u) => {
            dots(u, 1, false);
            dots(u, 2, true);
          },
        ],
        setCursor: [
          (u) => {
            const k = u.cursor.idx;
            if (k === null || k === undefined) return;
            const left =
              found.left_mm[k] === null ? "" : `, after layers ${found.left_mm[k].toFixed(1)} mm`;
            readout.textContent = `${siteText(found.t[k], found.utc_offset_min).replace("T", " ")}, ${found.occasion[k]}: ${found.offset_mm[k].toFixed(1)} mm${left}; ${found.band[k]}`;
          },
        ],
      },
    },
    [found.t, found.offset_mm, found.left_mm],
  );
  saveButtons(
    checks,
    () => plot,
    () => ({
      title: `${document.querySelector("h1").textContent}: staff minus sensor`,
      note: "Limits of acceptance: common practice.",
      name: "staff-minus-sensor",
      extra: svgDots,
    }),
  );
}

async function drawPreview() {
  const asked = new URLSearchParams(
    new FormData(document.querySelector("[data-carried]") ?? undefined),
  );
  const query = asked.size ? `?${asked}` : location.search;
  const found = await ask(`${preview.dataset.preview}${query}`);
  const mm = (values) => values.map((v) => (v === null ? null : v * 1000));
  const made = [
    [found.before.t, mm(found.before.mean)],
    [found.after.t, mm(found.after.mean)],
  ];
  const lines = [
    { stroke: INK, dash: [3, 3] },
    { stroke: ACCENT, dash: [] },
  ];
  const shifted =
    found.before.t.length === found.after.t.length &&
    found.before.t.every((t, k) => t === found.after.t[k]);
  const data = shifted
    ? [made[0][0], made[0][1], made[1][1]]
    : uPlot.join(made, [
        [2, 2],
        [2, 2],
      ]);
  plotIn(
    preview.querySelector("[data-plot]"),
    {
      height: 300,
      tzDate: siteClock(found.utc_offset_min),
      scales: { x: { time: true, range: () => [found.from_s, found.to_s] } },
      cursor: { drag: { x: false, y: false } },
      axes: [
        axis({ values: timeValues, size: 50 }),
        axis({ label: "Head, mm", size: 62, labelSize: 22 }),
      ],
      series: [{}, ...lines.map((line) => ({ ...line, width: 1.6, points: { show: false } }))],
    },
    data,
  );
  preview
    .querySelector("[data-legend]")
    .replaceChildren(legendLine(lines[0], "before"), legendLine(lines[1], "after"));
}

// Only the boxes that the chosen shape needs.
const write = document.querySelector("[data-write]");
const NEEDS = {
  "clock shift": ["amount"],
  "clock drift": ["amount", "amount_end"],
  offset: ["amount"],
  ramp: ["amount", "amount_end"],
  step: ["at", "amount", "amount_end"],
  spike: [],
  estimated: ["amount", "amount_end"],
  "no record": [],
};

function showNeeded() {
  const needed = NEEDS[write.elements.shape.value.replaceAll("_", " ")] ?? [
    "at",
    "amount",
    "amount_end",
  ];
  for (const name of ["at", "amount", "amount_end"]) {
    const box = write.elements[name].closest(".box");
    box.toggleAttribute("hidden", !needed.includes(name));
    if (!needed.includes(name)) write.elements[name].value = "";
  }
  const clock = write.elements.shape.value.startsWith("clock");
  for (const name of ["amount", "amount_end"]) {
    const label = write.querySelector(`label[for=${name}]`);
    label.textContent = label.textContent.replace(
      /[^,]*$/,
      ` ${clock ? "s" : write.elements.unit.value}`,
    );
  }
  write.elements.uncertainty.closest(".box").toggleAttribute("hidden", needed.length === 0);
}

if (write) {
  write.elements.shape.addEventListener("change", showNeeded);
  showNeeded();
}
if (checks?.querySelector("[data-plot]")) {
  drawChecks().catch((error) => {
    checks.querySelector("[data-readout]").textContent =
      `The chart could not be drawn: ${error.message}`;
  });
}
if (preview)
  drawPreview().catch((error) =>
    preview
      .querySelector("[data-plot]")
      .replaceChildren(`The chart could not be drawn: ${error.message}`),
  );

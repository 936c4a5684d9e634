// Charts of a rating and its gaugings. Figures and words come from the server, already in the unit
// of each axis; here they become pixels. Every chart is read by pointer and by arrow keys.
const css = getComputedStyle(document.documentElement);
const ink = css.getPropertyValue("--ink");
const quiet = css.getPropertyValue("--quiet");
const accent = css.getPropertyValue("--accent");
const grid = css.getPropertyValue("--line");
const SHADES = {
  soft: css.getPropertyValue("--band-soft"),
  faint: css.getPropertyValue("--band-faint"),
};
const FONT = "13px system-ui, sans-serif";
const HEIGHT = 360;

const section = document.querySelector("[data-charts]");
if (section) start(section);

async function start(section) {
  const places = [...section.querySelectorAll("[data-plot]")];
  try {
    const answer = await fetch(section.dataset.charts, { headers: { accept: "application/json" } });
    if (!answer.ok) throw new Error(`the server answered ${answer.status}`);
    const charts = await answer.json();
    for (const place of places) {
      const readout = section.querySelector(`[data-readout="${place.dataset.plot}"]`);
      const chart = charts[place.dataset.plot];
      if (chart) draw(place, readout, chart, charts.utc_offset_min);
      else readout.textContent = "Nothing to draw.";
    }
  } catch (error) {
    for (const output of section.querySelectorAll("[data-readout]")) {
      output.textContent = `The chart could not be drawn (${error.message}); the tables hold the figures.`;
    }
  }
}

/** Put bands, lines and points on one list of x in order, as uPlot wants its columns. */
function columns(chart) {
  const parts = [...chart.bands, ...chart.lines, ...chart.points.map((p) => ({ x: [p.x] }))];
  return [[...new Set(parts.flatMap((part) => part.x))].sort((a, b) => a - b)];
}

function draw(place, readout, chart, offsetMin) {
  let chosen;
  const scale = (axis) => ({
    time: axis.time,
    distr: axis.log ? 3 : 1,
    log: 10,
    range: () => [axis.low, axis.high],
  });
  const axis = (of, more) => ({
    stroke: ink,
    font: FONT,
    label: of.label || undefined,
    labelFont: FONT,
    labelSize: of.label ? 22 : 0,
    grid: { stroke: grid, width: 1 },
    ticks: { stroke: grid },
    ...(of.log && {
      splits: () => of.ticks,
      filter: (_u, splits) => splits,
      values: (_u, splits) => splits.map(String),
    }),
    ...more,
  });
  const rows = columns(chart);
  const plot = new uPlot(
    {
      width: place.clientWidth,
      height: HEIGHT,
      legend: { show: false },
      padding: [10, 16, 0, 0],
      scales: { x: scale(chart.x), y: scale(chart.y) },
      // The site's clock, whatever clock the browser keeps.
      tzDate: (s) =>
        new Date((s + offsetMin * 60 + new Date(s * 1000).getTimezoneOffset() * 60) * 1000),
      cursor: { drag: { x: false, y: false }, points: { show: false }, y: false },
      axes: [axis(chart.x, {}), axis(chart.y, { size: 62 })],
      series: [{}, { paths: () => null, points: { show: false } }],
      hooks: {
        draw: [(u) => paint(u, chart, chosen)],
        setCursor: [
          (u) => {
            const found = nearest(u, chart);
            if (found !== undefined && found !== chosen) choose(found);
          },
        ],
      },
    },
    [rows[0], rows[0].map(() => null)],
    place,
  );

  function choose(k) {
    chosen = k;
    readout.textContent = chart.points[k].text;
    plot.redraw(false);
  }

  plot.over.addEventListener("click", () => {
    const k = nearest(plot, chart);
    if (k !== undefined) location.href = chart.points[k].href;
  });
  place.addEventListener("keydown", (event) => {
    const last = chart.points.length - 1;
    if (last < 0) return;
    const next = {
      ArrowRight: chosen === undefined ? 0 : Math.min(chosen + 1, last),
      ArrowLeft: chosen === undefined ? last : Math.max(chosen - 1, 0),
      Home: 0,
      End: last,
    }[event.key];
    if (next !== undefined) {
      event.preventDefault();
      choose(next);
    } else if (event.key === "Enter" && chosen !== undefined)
      location.href = chart.points[chosen].href;
  });
  new ResizeObserver(() => plot.setSize({ width: place.clientWidth, height: HEIGHT })).observe(
    place,
  );
}

function paint(u, chart, chosen) {
  const pen = u.ctx;
  const ratio = devicePixelRatio || 1;
  const at = (x, y) => [u.valToPos(x, "x", true), u.valToPos(y, "y", true)];
  pen.save();
  pen.beginPath();
  pen.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  pen.clip();
  pen.font = `${12 * ratio}px system-ui, sans-serif`;
  for (const band of chart.bands) fill(pen, at, band);
  for (const upright of chart.uprights) stand(pen, u, upright, ratio);
  for (const line of chart.lines) stroke(pen, at, line, ratio);
  chart.points.forEach((point, k) => dot(pen, at, point, k === chosen, ratio));
  pen.restore();
}

function fill(pen, at, band) {
  const known = band.x
    .map((_x, k) => k)
    .filter((k) => band.low[k] !== null && band.high[k] !== null);
  pen.fillStyle = SHADES[band.shade];
  pen.beginPath();
  for (const k of known) pen.lineTo(...at(band.x[k], band.high[k]));
  for (const k of known.reverse()) pen.lineTo(...at(band.x[k], band.low[k]));
  pen.closePath();
  pen.fill();
}

function stroke(pen, at, line, ratio) {
  pen.strokeStyle = line.style === "dashed" ? ink : accent;
  pen.lineWidth = 2 * ratio;
  pen.setLineDash(line.style === "dashed" ? [6 * ratio, 5 * ratio] : []);
  pen.beginPath();
  let open = false;
  line.x.forEach((x, k) => {
    if (line.y[k] === null) open = false;
    else {
      pen[open ? "lineTo" : "moveTo"](...at(x, line.y[k]));
      open = true;
    }
  });
  pen.stroke();
  pen.setLineDash([]);
}

function stand(pen, u, upright, ratio) {
  const x = u.valToPos(upright.x, "x", true);
  if (x < u.bbox.left - 1 || x > u.bbox.left + u.bbox.width + 1) return;
  pen.strokeStyle = quiet;
  pen.lineWidth = ratio;
  pen.setLineDash([2 * ratio, 4 * ratio]);
  pen.beginPath();
  pen.moveTo(x, u.bbox.top);
  pen.lineTo(x, u.bbox.top + u.bbox.height);
  pen.stroke();
  pen.setLineDash([]);
  pen.fillStyle = quiet;
  const right = x > u.bbox.left + u.bbox.width * 0.8;
  pen.textAlign = right ? "right" : "left";
  pen.fillText(upright.name, x + (right ? -5 : 5) * ratio, u.bbox.top + 14 * ratio);
}

function dot(pen, at, point, chosen, ratio) {
  const [x, y] = at(point.x, point.y);
  const r = 5.5 * ratio;
  pen.strokeStyle = ink;
  pen.fillStyle = ink;
  pen.lineWidth = 1.6 * ratio;
  pen.globalAlpha = 0.55;
  pen.beginPath();
  // A bar that would reach to nothing runs out of a logarithmic chart at its foot.
  const foot =
    point.low > 0 || point.y <= 0 ? at(point.x, point.low)[1] : at(point.x, point.y / 50)[1];
  const top = at(point.x, point.high)[1];
  const low = Number.isFinite(foot) ? foot : y;
  pen.moveTo(x, low);
  pen.lineTo(x, top);
  for (const end of [low, top]) {
    pen.moveTo(x - r * 0.6, end);
    pen.lineTo(x + r * 0.6, end);
  }
  pen.stroke();
  pen.globalAlpha = 1;
  shape(pen, point.mark, x, y, r);
  if (chosen) {
    pen.strokeStyle = accent;
    pen.lineWidth = 3 * ratio;
    pen.beginPath();
    pen.arc(x, y, r * 2, 0, 2 * Math.PI);
    pen.stroke();
  }
}

/** The same shapes as templates/standing/_point.html. */
function shape(pen, mark, x, y, r) {
  pen.lineWidth = r * 0.36;
  pen.beginPath();
  if (mark === "fails" || mark === "query") {
    pen.moveTo(x - r, y - r);
    pen.lineTo(x + r, y + r);
    pen.moveTo(x + r, y - r);
    pen.lineTo(x - r, y + r);
    pen.stroke();
  } else if (mark === "inspect") {
    pen.moveTo(x, y - r * 1.1);
    pen.lineTo(x + r * 1.1, y + r);
    pen.lineTo(x - r * 1.1, y + r);
    pen.closePath();
    pen.fill();
  } else if (mark === "not counted") {
    pen.moveTo(x, y - r * 1.1);
    pen.lineTo(x + r * 1.1, y);
    pen.lineTo(x, y + r * 1.1);
    pen.lineTo(x - r * 1.1, y);
    pen.closePath();
    pen.stroke();
  } else {
    pen.arc(x, y, r * 0.85, 0, 2 * Math.PI);
    if (mark === "not proven") pen.stroke();
    else pen.fill();
  }
}

/** Find the point nearest to the pointer, within a finger's width. */
function nearest(u, chart) {
  const { left, top } = u.cursor;
  if (left === undefined || left < 0) return undefined;
  let found;
  let off = 28;
  chart.points.forEach((point, k) => {
    const away = Math.hypot(u.valToPos(point.x, "x") - left, u.valToPos(point.y, "y") - top);
    if (away < off) [found, off] = [k, away];
  });
  return found;
}

/**
 * Pictures of a gauging, drawn by script with attributes only: the section as it is typed, and the
 * trace of a tracer. The office draws the same ones from its own sums.
 */
const SVG = "http://www.w3.org/2000/svg";
const WIDE = 360;
const HIGH = 190;
const EDGE = { left: 34, right: 12, top: 22, bottom: 30 };

function node(tag, attributes = {}, text = null) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  if (text !== null) made.textContent = text;
  return made;
}

const scale = (low, high, from, to) => (value) =>
  from + ((value - low) / (high - low || 1)) * (to - from);
const points = (list) => list.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");

function canvas(label) {
  const svg = node("svg", {
    viewBox: `0 0 ${WIDE} ${HIGH}`,
    role: "img",
    class: "drawn",
    "aria-label": label,
  });
  svg.append(node("title", {}, label));
  return svg;
}

/** A round step that gives three to six marks. */
function step(span) {
  const rough = span / 4;
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((each) => each * power).find((each) => each >= rough) ?? 10 * power;
}

function marks(low, high) {
  const by = step(high - low || 1);
  const found = [];
  for (let at = Math.ceil(low / by - 1e-9) * by; at <= high + by * 1e-6; at += by)
    found.push(Number(at.toPrecision(6)));
  return found;
}

/** Where a panel begins and ends along the tape: between halfway points, or between verticals. */
function panelEdges(result, i) {
  const b = result.distance_m;
  if (result.panel_m3s.length < b.length) return [b[i], b[i + 1]];
  const before = i === 0 ? b[0] : (b[i - 1] + b[i]) / 2;
  const after = i === b.length - 1 ? b[i] : (b[i] + b[i + 1]) / 2;
  return [before, after];
}

function depthAt(result, x) {
  const { distance_m: b, depth_m: d } = result;
  const way = Math.sign(b.at(-1) - b[0]);
  const after = b.findIndex((each) => way * (each - x) >= 0);
  if (after <= 0) return d[0];
  const f = (x - b[after - 1]) / (b[after] - b[after - 1]);
  return d[after - 1] + f * (d[after] - d[after - 1]);
}

/**
 * The section: bed, panels with their share of the flow, a bar for the velocity of each vertical,
 * and where the next vertical would help. `result` is what velocityArea() hands back.
 */
export function drawSection(box, result) {
  const {
    distance_m: b,
    depth_m: d,
    velocity_ms: v,
    share_pct: share,
    next_vertical_m: next,
  } = result;
  const deepest = Math.max(...d) || 1;
  const fastest = Math.max(...v.map(Math.abs)) || 1;
  const [low, high] = [Math.min(...b), Math.max(...b)];
  const x = scale(low, high, EDGE.left, WIDE - EDGE.right);
  const y = scale(0, deepest, EDGE.top + 34, HIGH - EDGE.bottom);
  const widest = share.indexOf(Math.max(...share));
  const svg = canvas(
    `Section ${(high - low).toFixed(2)} m wide, deepest ${deepest.toFixed(2)} m; largest panel ${share[widest].toFixed(1)} %`,
  );
  share.forEach((each, i) => {
    const [from, to] = panelEdges(result, i);
    if (from === to || each <= 0) return;
    const bends = b
      .filter((one) => (one - from) * (one - to) < 0)
      .sort((p, q) => (from < to ? p - q : q - p));
    const bed = [from, ...bends, to].map((at) => [x(at), y(depthAt(result, at))]);
    svg.append(
      node("polygon", {
        points: points([[x(from), y(0)], ...bed, [x(to), y(0)]]),
        class: each > 10 + 1e-9 ? "panel over" : "panel",
      }),
    );
    const roomy = Math.abs(x(to) - x(from)) >= 38;
    if (each > 10 + 1e-9 && (roomy || i === widest))
      svg.append(
        node(
          "text",
          { x: x((from + to) / 2), y: y(0) + 15, "text-anchor": "middle" },
          roomy ? `${each.toFixed(0)} %` : each.toFixed(0),
        ),
      );
  });
  svg.append(
    node("polyline", {
      points: points([
        [x(b[0]), y(0) - 6],
        ...b.map((each, i) => [x(each), y(d[i])]),
        [x(b.at(-1)), y(0) - 6],
      ]),
      class: "ground",
    }),
  );
  svg.append(node("line", { x1: x(low), x2: x(high), y1: y(0), y2: y(0), class: "surface" }));
  b.forEach((each, i) => {
    if (v[i] === 0) return;
    const tall = (30 * Math.abs(v[i])) / fastest;
    svg.append(
      node("rect", { x: x(each) - 2.5, y: y(0) - tall, width: 5, height: tall, class: "speed" }),
    );
  });
  const framed = share[widest] > 10 + 1e-9 ? "; framed: over 10 %" : "";
  svg.append(
    node("text", { x: 4, y: 12 }, `bars: velocity, up to ${fastest.toFixed(2)} m/s${framed}`),
  );
  if (next !== null && next !== undefined)
    svg.append(
      node("line", { x1: x(next), x2: x(next), y1: y(0) - 32, y2: y(deepest), class: "next" }),
    );
  for (const at of marks(low, high)) {
    svg.append(
      node("line", {
        x1: x(at),
        x2: x(at),
        y1: HIGH - EDGE.bottom,
        y2: HIGH - EDGE.bottom + 5,
        class: "axis",
      }),
    );
    svg.append(
      node(
        "text",
        { x: x(at), y: HIGH - 10, "text-anchor": "middle" },
        at === marks(low, high).at(-1) ? `${at} m` : String(at),
      ),
    );
  }
  svg.append(
    node("text", { x: EDGE.left - 5, y: y(deepest), "text-anchor": "end" }, deepest.toFixed(2)),
  );
  svg.append(node("text", { x: EDGE.left - 5, y: y(0) + 4, "text-anchor": "end" }, "0"));
  box.replaceChildren(svg);
}

/** Conductivity against time, both probes, and the background [before, after], straight between. */
export function drawTrace(box, { time_s, trace, second = null, background = null }) {
  const all = [...trace, ...(second ?? []), ...(background ?? [])];
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const x = scale(time_s[0], time_s.at(-1), EDGE.left + 8, WIDE - EDGE.right);
  const y = scale(low, high, HIGH - EDGE.bottom, EDGE.top);
  const svg = canvas(
    `Conductivity over ${(time_s.at(-1) - time_s[0]).toFixed(0)} s, from ${low.toFixed(0)} to ${high.toFixed(0)} \u00b5S/cm`,
  );
  const line = (list, kind) =>
    svg.append(
      node("polyline", {
        points: points(list.map((each, i) => [x(time_s[i]), y(each)])),
        class: kind,
      }),
    );
  if (background !== null)
    svg.append(
      node("line", {
        x1: x(time_s[0]),
        x2: x(time_s.at(-1)),
        y1: y(background[0]),
        y2: y(background[1]),
        class: "base",
      }),
    );
  line(trace, "trace");
  if (second) line(second, "second");
  for (const at of marks(time_s[0], time_s.at(-1)))
    svg.append(node("text", { x: x(at), y: HIGH - 10, "text-anchor": "middle" }, `${at} s`));
  for (const at of marks(low, high))
    svg.append(node("text", { x: EDGE.left + 4, y: y(at) + 4, "text-anchor": "end" }, String(at)));
  svg.append(
    node(
      "text",
      { x: EDGE.left + 8, y: 12 },
      second ? "\u00b5S/cm; second probe dashed" : "\u00b5S/cm",
    ),
  );
  box.replaceChildren(svg);
}

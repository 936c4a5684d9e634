// A chart saved as it stands, as PNG or SVG, with its title above and a note below.
import { GRID, INK, PAPER, QUIET } from "./colours.js";
import { el, SVG, svgEl } from "./nodes.js";

function save(blob, name) {
  const url = URL.createObjectURL(blob);
  const link = el("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

/** Save the chart as it stands, with its title above and a note below. */
function savePng(plot, { title, note, name, lines = [] }) {
  const ratio = devicePixelRatio;
  const drawn = plot.ctx.canvas;
  const legendHigh = lines.length * 18;
  const [above, below] = [34 * ratio, (26 + legendHigh) * ratio];
  const sheet = el("canvas");
  [sheet.width, sheet.height] = [drawn.width, drawn.height + above + below];
  const pen = sheet.getContext("2d");
  pen.fillStyle = PAPER;
  pen.fillRect(0, 0, sheet.width, sheet.height);
  pen.drawImage(drawn, 0, above);
  pen.fillStyle = INK;
  pen.font = `600 ${15 * ratio}px system-ui, sans-serif`;
  pen.fillText(title, 10 * ratio, 22 * ratio, sheet.width - 20 * ratio);
  pen.fillStyle = QUIET;
  pen.font = `${12 * ratio}px system-ui, sans-serif`;
  lines.forEach(({ stroke, dash, words }, k) => {
    const y = sheet.height - (legendHigh + 18 - 18 * k) * ratio;
    pen.save();
    [pen.strokeStyle, pen.lineWidth] = [stroke, 2.5 * ratio];
    pen.setLineDash(dash.map((part) => part * ratio));
    pen.beginPath();
    pen.moveTo(10 * ratio, y);
    pen.lineTo(44 * ratio, y);
    pen.stroke();
    pen.restore();
    pen.fillText(words, 52 * ratio, y + 4 * ratio);
  });
  pen.fillText(note, 10 * ratio, sheet.height - 9 * ratio, sheet.width - 20 * ratio);
  sheet.toBlob((blob) => save(blob, `${name}.png`), "image/png");
}

const round = (value) => Math.round(value * 100) / 100;

/** One path of a series; a gap (null) lifts the pen, a missing place in the row (undefined) not. */
function pathOf(plot, k) {
  const scale = plot.series[k].scale ?? "y";
  let run = 0;
  const parts = [];
  const lift = () => {
    if (run === 1) parts.push("h0"); // a reading alone: a dot, by the round ends of the line
    run = 0;
  };
  plot.data[k].forEach((value, at) => {
    if (value === undefined) return;
    if (value === null || !Number.isFinite(value)) return lift();
    parts.push(
      `${run ? "L" : "M"}${round(plot.valToPos(plot.data[0][at], "x"))} ${round(plot.valToPos(value, scale))}`,
    );
    run += 1;
    return undefined;
  });
  lift();
  return parts.join("");
}

function axisMarks(plot, width, height) {
  const marks = [];
  plot.axes.forEach((one, k) => {
    if (!one.show || !one._splits) return;
    one._splits.forEach((split, at) => {
      const words = String(one._values?.[at] ?? "")
        .split("\n")
        .filter(Boolean);
      if (split === null || !words.length) return;
      const across = k === 0;
      const at_ = round(plot.valToPos(split, one.scale));
      if (across ? at_ < 0 || at_ > width : at_ < 0 || at_ > height) return;
      marks.push(
        svgEl(
          "line",
          across
            ? { x1: at_, y1: 0, x2: at_, y2: height, stroke: GRID }
            : { x1: 0, y1: at_, x2: width, y2: at_, stroke: GRID },
        ),
      );
      words.forEach((word, row) => {
        marks.push(
          svgEl(
            "text",
            across
              ? { x: at_, y: height + 18 + 15 * row, "text-anchor": "middle" }
              : { x: -8, y: at_ + 4, "text-anchor": "end" },
            word,
          ),
        );
      });
    });
  });
  return marks;
}

/** Save the chart as SVG, drawn anew from its data; `extra(plot)` gives more nodes. */
function saveSvg(plot, { title, note, name, lines = [], extra = () => [] }) {
  const { width, height } = { width: plot.over.clientWidth, height: plot.over.clientHeight };
  const [left, top, right, bottom] = [80, 100, 34, 74 + 18 * lines.length];
  const inner = svgEl(
    "g",
    { transform: `translate(${left} ${top})` },
    ...axisMarks(plot, width, height),
  );
  inner.append(svgEl("rect", { x: 0, y: 0, width, height, fill: "none", stroke: GRID }));
  plot.series.forEach((series, k) => {
    if (k === 0 || !series.show || typeof series.stroke !== "function") return;
    const stroke = series.stroke(plot, k);
    if (!stroke) return;
    inner.append(
      svgEl("path", {
        d: pathOf(plot, k),
        fill: "none",
        stroke,
        "stroke-width": series.width || 1,
        "stroke-dasharray": series.dash?.join(" ") || "none",
        "stroke-linejoin": "round",
        "stroke-linecap": series.dash?.length ? "butt" : "round",
      }),
    );
  });
  inner.append(...extra(plot));
  lines.forEach(({ stroke, dash, words }, row) => {
    const y = height + 54 + 18 * row;
    inner.append(
      svgEl("line", {
        x1: 0,
        y1: y,
        x2: 34,
        y2: y,
        stroke,
        "stroke-width": 2.5,
        "stroke-dasharray": dash.join(" ") || "none",
      }),
      svgEl("text", { x: 42, y: y + 4, "font-size": 12 }, words),
    );
  });
  const label = plot.axes[1].label ?? "";
  const sheet = svgEl(
    "svg",
    {
      xmlns: SVG,
      viewBox: `0 0 ${width + left + right} ${height + top + bottom}`,
      width: width + left + right,
      height: height + top + bottom,
      "font-family": "system-ui, sans-serif",
      "font-size": 13,
      fill: INK,
    },
    svgEl("title", {}, title),
    svgEl("rect", { width: "100%", height: "100%", fill: PAPER }),
    svgEl("text", { x: 12, y: 26, "font-size": 16, "font-weight": 600 }, title),
    svgEl("text", { x: 12, y: 48 }, typeof label === "string" ? label : ""),
    inner,
    svgEl("text", { x: 12, y: height + top + bottom - 10, fill: QUIET, "font-size": 12 }, note),
  );
  const text = new XMLSerializer().serializeToString(sheet);
  save(new Blob([text], { type: "image/svg+xml" }), `${name}.svg`);
}

/** Wire the two save buttons of a figure; `about()` gives title, note and name at that moment. */
export function saveButtons(figure, plot, about) {
  for (const button of figure.querySelectorAll("[data-save]")) {
    button.addEventListener("click", () =>
      (button.dataset.save === "png" ? savePng : saveSvg)(plot(), about()),
    );
  }
}

// Nodes of a page and of a drawing, and the line of a legend.

export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (value !== null && value !== false) node.setAttribute(name, value);
  node.append(...children);
  return node;
}

export const SVG = "http://www.w3.org/2000/svg";

export function svgEl(tag, attributes = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  node.append(...children);
  return node;
}

/** A line of the legend: the stroke itself, then its words. */
export function legendLine({ stroke, dash }, words) {
  const line = svgEl("line", {
    x1: 1,
    y1: 7,
    x2: 33,
    y2: 7,
    stroke,
    "stroke-width": 2.5,
    "stroke-dasharray": dash.join(" ") || "none",
  });
  return el(
    "li",
    {},
    svgEl("svg", { viewBox: "0 0 34 14", width: 34, height: 14, "aria-hidden": "true" }, line),
    ` ${words}`,
  );
}

/** A drawing of the office as SVG: shapes with attributes, a title and a description in words. */
const SVG = "http://www.w3.org/2000/svg";

function node(name, attributes, text = null) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== null) made.textContent = text;
  return made;
}

export function drawing(d) {
  const svg = node("svg", {
    class: "drawing",
    role: "img",
    viewBox: `0 0 ${d.width} ${d.height}`,
    "font-size": d.font_px,
    "font-family": "system-ui, sans-serif",
    "aria-labelledby": `${d.key}-title ${d.key}-desc`,
  });
  svg.append(
    node("title", { id: `${d.key}-title` }, d.title),
    node("desc", { id: `${d.key}-desc` }, d.description),
  );
  for (const s of d.shapes) {
    if (s.kind === "text")
      svg.append(
        node(
          "text",
          {
            x: s.x,
            y: s.y,
            "text-anchor": s.anchor,
            ...(s.bold ? { "font-weight": 600 } : {}),
          },
          s.words,
        ),
      );
    else svg.append(node(s.kind, { points: s.points, ...s.attributes }));
  }
  return svg;
}

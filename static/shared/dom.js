/** Small helpers for building pages; text always goes in as text. */

export const byId = (id) => document.getElementById(id);

/** el("a", {href: "/field", class: "row"}, "Sites", node, null) */
export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return node;
}

export function fill(node, ...children) {
  node.replaceChildren(...children.flat().filter((child) => child !== null && child !== undefined));
}

export const show = (node, yes) => node.toggleAttribute("hidden", !yes);

/** The page's query string as an object. */
export const query = () => Object.fromEntries(new URLSearchParams(location.search));

/** An address with the given values, empty ones left out. */
export function address(path, values) {
  const kept = Object.entries(values).filter(([, value]) => value !== null && value !== undefined);
  return kept.length ? `${path}?${new URLSearchParams(kept)}` : path;
}

/** The flume from the side with its staff: the water line moves with what is typed. */
import { fill } from "../../shared/dom.js";
import { lengthText } from "../../shared/numbers.js";
import { levelsSeen } from "./levels_seen.js";

const SVG = "http://www.w3.org/2000/svg";
const WIDTH_PX = 340;
const STAFF = { from: 44, to: 66 };
const CREST = { from: 186, to: 236 };
const RAMP_PX = 40;

function shape(name, attributes, words = null) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words !== null) made.textContent = words;
  return made;
}

/** A body of water whose surface is moved by a transform, so that it glides. */
function water(id, x, width, height) {
  return shape("rect", { id, class: "water", x, y: 0, width, height });
}

function made(seen) {
  const { crest, floor, height } = seen;
  const ground = [
    [0, floor],
    [CREST.from - RAMP_PX, floor],
    [CREST.from, crest],
    [CREST.to, crest],
    [CREST.to + RAMP_PX, floor],
    [WIDTH_PX, floor],
    [WIDTH_PX, height],
    [0, height],
  ];
  const svg = shape("svg", { viewBox: `0 0 ${WIDTH_PX} ${height}`, role: "img", class: "levels" });
  svg.append(
    shape("title", {}),
    water("water-here", 0, CREST.to, height),
    water("water-below", CREST.to, WIDTH_PX - CREST.to, height),
    shape("polygon", { class: "ground", points: ground.map((at) => at.join(",")).join(" ") }),
    shape(
      "text",
      { class: "said", x: CREST.from + 4, y: Math.min(crest + 16, height - 4) },
      "crest",
    ),
    shape("rect", { class: "staff", x: STAFF.from, y: 0, width: STAFF.to - STAFF.from, height }),
    ...seen.marks.flatMap(({ y, words }) => [
      shape("line", {
        class: "mark",
        x1: STAFF.from,
        x2: words ? STAFF.to : STAFF.from + 8,
        y1: y,
        y2: y,
      }),
      ...(words
        ? [
            shape(
              "text",
              { class: "said", x: STAFF.from - 5, y: y + 4, "text-anchor": "end" },
              words,
            ),
          ]
        : []),
    ]),
    shape("path", { id: "pointer", class: "pointer", d: `M${STAFF.to + 2},0 l12,-7 v14 z` }),
    shape("text", { id: "pointer-says", class: "said strong", x: STAFF.to + 18, y: -6 }),
  );
  return svg;
}

const move = (node, y) => {
  node.style.visibility = y === null ? "hidden" : "visible";
  if (y !== null) node.style.transform = `translateY(${y}px)`;
};

/**
 * Draw it into `node`, or move what is drawn. `usual` is that of the staff here, `zero` the gauge
 * zero in force, `staff_m` and `tail_m` what was read, null where nothing was.
 */
export function drawPicture(node, { usual, zero, staff_m, tail_m, unit }) {
  if (!zero) return fill(node); // without a zero nobody knows where the crest is on the staff
  const crest_m = -zero.offset_m;
  const tailOnStaff_m =
    tail_m === null ? null : tail_m + (zero.tail_offset_m ?? zero.offset_m) - zero.offset_m;
  const seen = levelsSeen({ crest_m, high_m: usual.high, staff_m, tail_m: tailOnStaff_m, unit });
  const drawn = JSON.stringify([seen.marks, seen.crest]);
  if (node.dataset.drawn !== drawn) {
    fill(node, made(seen));
    node.dataset.drawn = drawn;
  }
  const part = (id) => node.querySelector(`#${id}`);
  move(part("water-here"), seen.water);
  move(part("water-below"), seen.tail);
  for (const id of ["pointer", "pointer-says"]) move(part(id), seen.water);
  const read = staff_m === null ? "" : lengthText(staff_m, unit);
  part("pointer-says").textContent = read;
  const tail =
    tail_m === null ? "Tailwater not read." : `Tail staff at ${lengthText(tail_m, unit)}.`;
  node.querySelector("title").textContent = read
    ? `Flume from the side: water at ${read} on the staff, crest at ${lengthText(crest_m, unit)}. ${tail}`
    : `Flume from the side: crest at ${lengthText(crest_m, unit)} on the staff; nothing read yet.`;
  return undefined;
}

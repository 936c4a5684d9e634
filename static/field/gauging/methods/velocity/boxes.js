/** The boxes around the verticals: the edges of the section and the meter. */
import { el, fill } from "../../../../shared/dom.js";
import { button, choice, figureBox, more } from "../../inputs.js";

export function edgeBoxes(which, words, part, changed) {
  const row = part[which];
  const inner = el("div", { class: "list" });
  const kind = `${which}Kind`;
  const set = (name) => (text) => {
    row[name] = text;
    changed();
  };
  const redraw = () => {
    const point = (row.points.v06 ??= { velocity: "", counts: "", seconds: "" });
    const heard = (name) => (text) => {
      point[name] = text;
      changed();
    };
    fill(
      inner,
      part[kind] === "bank"
        ? null
        : [
            el(
              "div",
              { class: "two" },
              figureBox({
                label: "Depth at the wall",
                unit: "m",
                value: row.depth,
                set: set("depth"),
              }),
              part.how === "velocity"
                ? figureBox({
                    label: "Velocity",
                    unit: "m/s",
                    value: point.velocity,
                    set: heard("velocity"),
                  })
                : null,
            ),
            part.how === "velocity"
              ? null
              : el(
                  "div",
                  { class: "two" },
                  figureBox({ label: "Counts", value: point.counts, set: heard("counts") }),
                  figureBox({
                    label: "in",
                    unit: "s",
                    value: point.seconds,
                    set: heard("seconds"),
                  }),
                ),
          ],
    );
  };
  redraw();
  return el(
    "section",
    { class: "panel", "data-edge": which },
    el(
      "div",
      { class: "two" },
      figureBox({
        label: `${words}, tape`,
        unit: "m",
        value: row.distance,
        name: `${which}_edge`,
        set: set("distance"),
      }),
      choice({
        legend: "is a",
        name: `${which}-kind`,
        options: [
          ["bank", "bank"],
          ["wall", "wall"],
        ],
        value: part[kind],
        set: (value) => {
          part[kind] = value;
          redraw();
          changed();
        },
      }),
    ),
    inner,
  );
}

export function meterBoxes(part, changed, redraw) {
  const rows = el("div", { class: "list" });
  const names = ["From, rev/s", "Slope, m", "Offset, m/s"];
  const redrawPieces = () =>
    fill(
      rows,
      part.how === "velocity"
        ? null
        : [
            el(
              "p",
              { class: "hint" },
              "From the meter's own card: velocity = slope \u00d7 revolutions a second + offset.",
            ),
            ...part.pieces.map((piece) =>
              el(
                "div",
                { class: "threefold" },
                names.map((label, i) =>
                  figureBox({
                    label,
                    value: piece[i],
                    set: (text) => {
                      piece[i] = text;
                      changed();
                    },
                  }),
                ),
              ),
            ),
            button("One more piece", () => {
              part.pieces.push(["", "", ""]);
              redrawPieces();
            }),
          ],
    );
  redrawPieces();
  const node = more(
    "The meter",
    choice({
      legend: "It gives",
      name: "how",
      options: [
        ["velocity", "a velocity"],
        ["counts", "counts"],
      ],
      value: part.how,
      set: (value) => {
        part.how = value;
        redrawPieces();
        redraw();
        changed();
      },
    }),
    rows,
  );
  node.open = part.how === "counts";
  return node;
}

/**
 * The sections of an install stop: which figures each asks for, and what it says of them at once.
 *
 * A field: [name, label, unit]. Widths are typed in mm, all other lengths in m; stored in metres.
 */
import { el } from "../../shared/dom.js";
import { figure, signed } from "../levels/view.js";
import { CREEP_RATIOS } from "../sums/install.js";

const mm = (metres, digits = 1) =>
  metres === null || metres === undefined ? "\u2013" : `${signed(metres * 1000, digits)} mm`;
const line = (name, said) => [el("dt", {}, name), el("dd", {}, said)];
const list = (...rows) => el("dl", { class: "pairs" }, rows.flat(3));

const CORNER_WORDS = {
  corner_ul: "Upstream left",
  corner_ur: "Upstream right",
  corner_dl: "Downstream left",
  corner_dr: "Downstream right",
};
const WIDTH_WORDS = { top_m: "Top", middle_m: "Middle", bottom_m: "Bottom" };

export const PARTS = {
  corners: {
    title: "Crest corners",
    hint: "One sight on a firm mark, then one on each corner, from one set-up.",
    fields: [
      ["reference", "Mark", "text"],
      ["reference_rl_m", "Its level", "m"],
      ["backsight_m", "Reading on the mark", "m"],
      ...Object.entries(CORNER_WORDS).map(([key, word]) => [key, word, "m"]),
      ["tolerance", "Corner tolerance", "mm"],
    ],
    say: ({ corners, corner }) =>
      corner
        ? [
            el("p", {}, corner.rows > 1 ? "Level, and change since the last stop:" : "Level:"),
            list(
              ...Object.keys(CORNER_WORDS).map((key, i) =>
                key in corners
                  ? line(
                      CORNER_WORDS[key],
                      `${figure(corners[key])} m${corner.rows > 1 ? `, ${mm(corner.change_m[i])}` : ""}`,
                    )
                  : [],
              ),
            ),
          ]
        : null,
  },
  widths: {
    title: "Throat width between the walls",
    fields: [
      ["top_m", "Top", "mm"],
      ["middle_m", "Middle", "mm"],
      ["bottom_m", "Bottom", "mm"],
      ["width_limit", "Allowed change", "mm"],
    ],
    say: ({ width }) =>
      width && width.rows > 1
        ? [
            el("p", {}, "Change since the last stop, and in all since it was set:"),
            list(
              ...Object.values(WIDTH_WORDS).map((word, i) =>
                line(word, `${mm(width.change_m[i])}, ${mm(width.total_m[i])}`),
              ),
            ),
          ]
        : null,
  },
  lift: {
    title: "This lift",
    hint: "Bases are commonly filled in lifts to about a third: common practice, a check value only.",
    fields: [
      ["lift_m", "Height of the wet lift", "m"],
      ["base_height_m", "Height of the base or walls", "m"],
    ],
    say: ({ lift }) =>
      lift
        ? list(
            line("Pressure at its foot", `${figure(lift.pressure_kpa, 1)} kPa`),
            line("Force on a metre of wall", `${figure(lift.force_kn_per_m, 2)} kN`),
          )
        : null,
  },
  box: {
    title: "Uplift of the empty box",
    hint: "Wet concrete lifts 2.4 times as hard as water. 1.2 to 1.3 is a usual factor (common practice).",
    fields: [
      ["length_m", "Length of the box", "m"],
      ["width_m", "Width of the box", "m"],
      ["water_depth_m", "Ground water up its sides", "m"],
      ["concrete_depth_m", "Wet concrete up its sides", "m"],
      ["mass_kg", "Mass of the box", "kg"],
      ["hold_down_kn", "Straps, pins, ballast", "kN"],
      ["target", "Factor wanted", ""],
    ],
    say: ({ water, wet, hold_m3, ballast_kg }) =>
      water || wet
        ? list(
            ...[
              ["water", water],
              ["wet concrete", wet],
            ]
              .filter(([, found]) => found)
              .flatMap(([name, found]) => [
                line(`Uplift in ${name}`, `${figure(found.uplift_kn, 2)} kN`),
                line("Factor of safety", `${figure(found.factor, 2)}: ${found.word}`),
                line("Still to hold down", `${figure(Math.max(found.net_kn, 0), 2)} kN`),
              ]),
            hold_m3 === null
              ? []
              : [
                  line("Concrete fixed below to hold it in water", `${figure(hold_m3, 2)} m\u00b3`),
                  line("Or dry ballast inside", `${figure(ballast_kg, 0)} kg`),
                ],
          )
        : null,
  },
  concrete: {
    title: "Concrete",
    fields: [
      ["slab", "Slab or footing", "m\u00b3"],
      ["walls", "Walls", "m\u00b3"],
      ["wings", "Wings", "m\u00b3"],
      ["cutoffs", "Cut-offs", "m\u00b3"],
      ["void_m3", "Less: void of the flume", "m\u00b3"],
    ],
    say: ({ concrete }) =>
      concrete
        ? list(
            line("In place", `${figure(concrete.volume_m3, 2)} m\u00b3`),
            line(
              "To order, 10 % more (common practice)",
              `${figure(concrete.order_m3, 2)} m\u00b3`,
            ),
            line("Or bags of 25 kg dry mix", `${concrete.bags}`),
          )
        : null,
  },
  creep: {
    title: "Seepage path",
    hint: "Lengths along the underside, with spaces between: verticals at the cut-offs, horizontals under the floor. Ratios by soil: Lane 1935, from memory.",
    fields: [
      ["verticals_m", "Verticals", "m list"],
      ["horizontals_m", "Horizontals", "m list"],
      ["head_m", "Head difference", "m"],
      ["soil", "Soil", Object.keys(CREEP_RATIOS)],
    ],
    say: ({ creep }) =>
      creep
        ? list(
            line(
              "Weighted creep ratio",
              `${figure(creep.ratio, 1)}${creep.needed === null ? "" : `, wanted ${creep.needed}: ${creep.word}`}`,
            ),
            line("Long enough for", creep.enough_for.join(", ") || "none of the soils listed"),
          )
        : null,
  },
  tail: {
    title: "Tail: fall and scour",
    hint: "About 200 mm of fall at the tail is common practice, a check value only. Stone for four water depths and 1.5 m at least (from memory).",
    fields: [
      ["fall_m", "Fall at the tail", "m"],
      ["protection_m", "Length of stone", "m"],
      ["tail_water_depth_m", "Water depth below", "m"],
      ["scour", "Scour seen", "text"],
    ],
    say: ({ protection }) =>
      protection ? el("p", { class: protection.near ? "" : "problem" }, protection.words) : null,
  },
  delivered: {
    title: "Delivered concrete",
    fields: [["delivered", "Docket: volume, slump, time", "text"]],
    say: () => null,
  },
};

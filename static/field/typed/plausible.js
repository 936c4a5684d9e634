/**
 * Is a staff reading plausible here? Asked once, against what this staff usually shows and what it
 * showed last, with answers of one tap.
 */
import { el, fill } from "../../shared/dom.js";
import { lengthText, meanings, spelled, toMetres } from "../../shared/numbers.js";
import { thresholds } from "../base/thresholds.js";
import { inForce } from "../keep/pack.js";

const limits = thresholds.readings;

const HIGHEST_STAFF_M = 50; // the office takes no larger figure; what is unusual below it is asked
const OTHERS = {
  m: [
    ["mm", 0.001],
    ["cm", 0.01],
  ],
  cm: [
    ["mm", 0.1],
    ["m", 100],
  ],
  mm: [["m", 1000]], // centimetres are a slip of ten
};
const EXAMPLE = { m: "0.251", cm: "25.1", mm: "251" };
const LEAST_FIGURE = { mm: 3, cm: 0.3 }; // below it a figure with a broken part is metres

/** What a staff shows here: {low, high, last, dry}, m; the server's range of the record, else the rating's. */
export function usualStaff(structure, site, at) {
  const offset = inForce(structure.gauge_zeros, at)?.offset_m ?? 0;
  const table = inForce(structure.ratings, at)?.table;
  const [low, high] = structure.usual_head_m ?? [
    -limits.far_under_m,
    table?.head_max_m * limits.usual_share || 3,
  ];
  const last = site?.recent?.find(
    (one) => one.structure_id === structure.id && one.head_m > 0,
  )?.head_m;
  return {
    low: low - offset,
    high: high - offset,
    last: last - offset,
    dry: (table?.cease_to_flow_m ?? 0) - limits.far_under_m - offset,
  };
}

/** What a tail staff shows here: from a little under the crest up to the highest usual head. */
export function usualTail({ high }, structure, at) {
  const zero = inForce(structure.gauge_zeros, at);
  const offset = zero?.offset_m ?? 0;
  const tail = zero?.tail_offset_m ?? offset;
  return { low: -limits.far_under_m - tail, high: high + offset - tail };
}

/**
 * Read one staff reading. `usual`: {low, high, last?, dry?, least?} or the highest alone.
 *
 * Returns {metres} when it is plausible; {problem} when it is no number; else {question, metres,
 * offers, typed, must, dry}: `offers` and `typed` are answers {words, text} (`text` goes into the
 * box), `must` says that the figure cannot be right as it stands.
 */
export function readLength(text, unit, usual) {
  const { low, high, last, dry, least = low } = usual.high ? usual : { low: -usual, high: usual };
  const values = meanings(text);
  const metres = (value) => toMetres(value, unit);
  const fits = (value) => {
    const m = metres(value);
    const tiny = Math.abs(value) < LEAST_FIGURE[unit] && value % 1; // nobody reads 0.251 mm
    return !tiny && ((m >= low && m <= high) || (m >= dry && m <= dry + limits.far_under_m));
  };
  const said = (value, words) => {
    const plain = String(Number(value.toPrecision(9)));
    return { text: unit === "m" ? plain : spelled(value), words: words ?? `${plain} ${unit}?` };
  };
  const good = values.filter(fits);
  const near = (value) => Math.abs(Math.log(metres(value) / (last > 0 ? last : high / 3)));
  const offers = values
    .flatMap((value) => [
      ...OTHERS[unit].map(([other, factor]) => [value * factor, `${text.trim()} ${other}?`]),
      [value * 10],
      [value / 10],
      [good[1] && value],
    ])
    .filter(
      ([value], i, all) =>
        metres(value) >= Math.max(least, 1e-6) &&
        metres(value) <= high &&
        fits(value) &&
        all.findIndex(([same]) => Math.abs(same / value - 1) < 1e-9) === i,
    )
    .sort(([a], [b]) => near(a) - near(b))
    .slice(0, 2);
  // a slip of ten: five times away from the last reading, and the offer within a third of it
  const slip = last > 0.02 && near(good[0]) > Math.log(5) && near(offers[0]?.[0]) < 0.3;
  if (good.length === 1 && !slip) return { metres: metres(good[0]) };
  const possible = values.filter((value) => Math.abs(metres(value)) <= HIGHEST_STAFF_M);
  if (!values.length)
    return {
      problem: `"${text.trim()}" is not a number. Type digits, such as ${EXAMPLE[unit]}.`,
    };
  if (!possible.length && !offers.length)
    return { problem: `${text.trim()} ${unit} is more than ${HIGHEST_STAFF_M} m. Check its unit.` };
  const m = metres(possible[0] ?? values[0]);
  const answers = offers.map(([value, words]) => said(value, words));
  return {
    metres: m,
    offers: answers,
    must: !possible.length,
    text: answers[0]?.text,
    dry: m < dry,
    question: answers[0]?.words ?? `Usual: ${lengthText(low, unit)} to ${lengthText(high, unit)}`,
    typed: good[1]
      ? []
      : possible.map((value) =>
          values[1] ? said(value) : { text, words: `${text.trim()} ${unit}, as typed` },
        ),
  };
}

/** The same, with what the person answered: figures kept as typed are taken and say so. */
export function askLength(text, unit, usual, kept) {
  if (!text.trim()) return null;
  const read = readLength(text, unit, usual);
  return read.question && !read.must && kept.includes(text)
    ? { metres: read.metres, kept: true, dry: read.dry }
    : read;
}

/** The question with its answers, or a plain problem, or nothing. */
export function drawAsk(node, read, { agree, keep, dry }) {
  if (!read?.question) return fill(node, read?.problem ?? "");
  const button = (onclick, words, kind = null) =>
    el("button", { type: "button", class: kind, onclick }, words);
  return fill(
    node,
    read.text ? null : read.question,
    read.offers.map(({ words, text }) => button(() => agree(text), words, "agree")),
    read.dry && dry ? button(dry, "Dry: no flow") : null,
    read.typed.map(({ words, text }) => button(() => keep(text), words)),
  );
}

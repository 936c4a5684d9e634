/**
 * A conductivity trace as text: typed, pasted, or from a logger's file.
 *
 * One reading a line: time, conductivity, and a second probe if there is one. Time is seconds, or
 * a clock (h:mm:ss, m:ss). Between figures: tab, semicolon, blanks or a comma; a comma is the
 * decimal sign where something else parts the figures. Lines of words at the top are headings.
 */
import { BadInput } from "../../../shared/bad_input.js";
import { parseNumber } from "../../../shared/numbers.js";
import { columnOf, decimalSign } from "../../typed/number_words.js";

const MOST_READINGS = 5000;
const CLOCK = /^(\d{4}-\d\d-\d\d[T ])?(\d{1,2}):(\d\d)(?::(\d\d(?:[.,]\d+)?))?Z?$/;
const DAY_S = 86400;

/** Seconds of a time as written; `clock` tells whether it was one, `long` whether it had hours. */
function seconds(text) {
  const match = CLOCK.exec(text);
  if (!match) return { value: parseNumber(text), clock: false };
  const [, day, first, second, third] = match;
  const small = third === undefined ? Number(second) : Number(third.replace(",", "."));
  const value =
    third === undefined && !day
      ? Number(first) * 60 + small
      : Number(first) * 3600 + Number(second) * 60 + (third === undefined ? 0 : small);
  return { value, clock: true };
}

/** The character that parts the figures: a comma only when nothing stronger does. */
function partsOf(line) {
  for (const mark of ["\t", ";"])
    if (line.includes(mark)) return line.split(mark).map((each) => each.trim());
  const dated = line.replace(/^(\d{4}-\d\d-\d\d) (?=\d)/, "$1T");
  const spaced = dated.split(/ +/).filter(Boolean);
  if (spaced.length > 1 && !dated.includes(", ") && spaced.every((each) => each !== ","))
    return spaced;
  return dated.split(",").map((each) => each.trim());
}

/**
 * Read a trace: {time_s, trace, second}. Empty text gives empty lists.
 *
 * Throws BadInput naming the line that is not understood; nothing is dropped in silence.
 */
export function readTrace(text) {
  const time_s = [];
  const trace = [];
  const second = [];
  let start = null;
  let days = 0;
  let last = null;
  const lines = text.split(/\r\n|\r|\n/).map((raw) => partsOf(raw.trim().replaceAll('"', "")));
  const signs = [0, 1, 2].map((k) => decimalSign(lines.map((parts) => parts[k] ?? "")));
  const inColumn = (k, each) => columnOf([each], signs[k] || signs.find(Boolean) || "")[0];
  text.split(/\r\n|\r|\n/).forEach((raw, i) => {
    const line = raw.trim().replaceAll('"', "");
    if (!line) return;
    const parts = partsOf(line);
    const at = seconds(parts[0]);
    const numbers = parts.slice(1).map((each, k) => (each === "" ? null : inColumn(k + 1, each)));
    if (at.value === null || parts.length < 2 || numbers[0] === null || numbers[0] === undefined) {
      if (time_s.length === 0 && /[A-Za-z\u00b5]/.test(line)) return; // a heading
      throw new BadInput(
        `trace line ${i + 1}`,
        line.slice(0, 40),
        "is not a time and a conductivity",
        "Write seconds and \u00b5S/cm, such as: 15 102",
      );
    }
    if (at.clock && last !== null && at.value + days < last - DAY_S / 2) days += DAY_S; // past midnight
    const value = at.value + (at.clock ? days : 0);
    last = value;
    start ??= at.clock ? value : 0;
    time_s.push(Math.round((value - start) * 1000) / 1000);
    trace.push(numbers[0]);
    if (numbers.length > 1 && numbers[1] !== null) second.push(numbers[1]);
  });
  if (time_s.length > MOST_READINGS)
    throw new BadInput(
      "trace",
      `${time_s.length} readings`,
      `at most ${MOST_READINGS}`,
      "Cut the file to the cloud and its background.",
    );
  if (second.length && second.length !== trace.length)
    throw new BadInput(
      "second probe",
      second.length,
      `has not the ${trace.length} readings of the first`,
      "Fill in or take out its column.",
    );
  return { time_s, trace, second: second.length ? second : null };
}

/** The next line when readings are typed at an interval. */
export function nextLine(text, interval, value, secondValue = "") {
  const lines = text.split(/\r\n|\r|\n/).filter((line) => line.trim());
  const before = lines.length ? seconds(partsOf(lines.at(-1))[0]).value : null;
  const at = before === null ? 0 : Math.round((before + interval) * 1000) / 1000;
  return [
    ...lines,
    [at, value.trim(), secondValue.trim()].filter((each) => each !== "").join("; "),
  ].join("\n");
}

/** As-built dimensions from what is typed: repeats in mm, asked about where unlike the named. */
import { possible, spelled } from "../../shared/numbers.js";
import { slip } from "../typed/dimension_slip.js";

/** One figure in mm against its named value: a number, null, or {question, answers: texts}. */
function dimension(one, named_m, sure) {
  const found = possible(one, { low: 0.0001 });
  if (!found.length || (found.length === 1 && sure.includes(one))) return found[0] ?? null;
  const named = named_m * 1000;
  if (!named)
    return found.length > 1 ? { question: `${one} mm?`, answers: found.map(spelled) } : found[0];
  const meant = found.map((value) => slip(value, named));
  const alike = found.filter((value, i) => meant[i] === value);
  if (alike.length === 1) return alike[0];
  const likely = meant
    .filter((value) => value !== null)
    .map((value) => spelled(Math.round(value * 10) / 10));
  const answers = [...likely, ...(found.length > 1 ? found.map(spelled) : [one])];
  return { question: `named ${Math.round(named * 10) / 10} mm`, answers: [...new Set(answers)] };
}

/**
 * As-built dimensions: {body | null, problem, asked}. Repeats of one dimension with spaces between.
 * `asked` {key, one, answers} is a figure unlike its named value, until it is in `sure`.
 */
export function dimensionBody(texts, dimensions, instrument, sure = []) {
  const measured = [];
  for (const { key, label, named_m } of dimensions) {
    const text = (texts[key] ?? "").trim();
    if (!text) continue;
    const parts = text.split(/[\s;]+/);
    const figures = parts.map((one) => dimension(one, named_m, sure));
    const at = figures.findIndex((each) => each?.answers);
    if (at >= 0)
      return {
        body: null,
        problem: `${label}: ${parts[at]} mm is asked about (${figures[at].question}).`,
        asked: { key, one: parts[at], ...figures[at] },
      };
    if (figures.some((value) => value === null || value <= 0))
      return { body: null, problem: `${label}: "${text}" is not a length in mm.` };
    measured.push({
      key,
      label,
      measured_m: figures.map((value) => Math.round(value * 1000) / 1e6),
    });
  }
  if (!measured.length) return { body: null, problem: "Measure at least one dimension." };
  const typed = sure.filter((one) =>
    Object.values(texts).some((text) => text.split(/[\s;]+/).includes(one)),
  );
  return {
    body: {
      dimensions: measured,
      instrument: instrument.trim(),
      ...(typed.length ? { as_typed: typed } : {}),
    },
    problem: "",
  };
}

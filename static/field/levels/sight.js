/**
 * The next sight of the level book, or the one being changed: kind, point, reading.
 *
 * `makeSight(form, state, changed)`: `state()` gives {values, place}; `changed()` is called after
 * every change of the book.
 */
import { byId, el, fill, show } from "../../shared/dom.js";
import { parseNumber } from "../../shared/numbers.js";
import { drawAsk } from "../typed/plausible.js";
import { kindsAfter, offer, POINTS, readSight, turningPoint } from "./book.js";
import { reduce } from "./reduce.js";
import { drawLevelNow, figure } from "./view.js";

const option = (role, point, words) => el("option", { value: `${role}|${point}` }, words ?? point);
const group = (label, ...options) => el("optgroup", { label }, ...options);

/** The points a sight may go to: the usual places, a turning point, known benchmarks. */
function pointsOffered({ next, sights, editing }, benchmarks) {
  if (next.kind === "bs" && sights.length && editing === null)
    return [option(next.role, next.point)];
  const booked = sights.filter(({ role }) => role === "benchmark").map(({ point }) => point);
  const marks = [...new Set([...benchmarks.map(({ name }) => name), ...booked])];
  const places =
    next.kind === "is" ? POINTS.map(([role, name, words]) => option(role, name, words)) : [];
  const turning = next.kind === "bs" ? [] : [option("turning_point", turningPoint(sights))];
  return [
    places.length ? group("Usual points", places) : null,
    turning.length ? group("Turning point", turning) : null,
    group(
      "Benchmarks",
      marks.map((name) => option("benchmark", name)),
      option("benchmark", "", "new benchmark \u2026"),
    ),
    option("other", "", "another point \u2026"),
  ];
}

export function makeSight(form, state, changed) {
  const say = (words) => {
    byId("sight-problem").textContent = words;
    show(byId("sight-problem"), Boolean(words));
  };

  function fillPoints() {
    const { values, place } = state();
    const { next } = values;
    const box = byId("role");
    fill(box, ...pointsOffered(values, place.survey.benchmarks));
    const find = (wanted) => [...box.options].find(({ value }) => value === wanted);
    const chosen =
      find(`${next.role}|${next.point}`) ??
      find(`${next.role}|`) ??
      box.options[box.options.length - 1];
    box.value = chosen.value;
    show(byId("point-row"), chosen.value.endsWith("|"));
    form.elements.point.value = next.point;
  }

  /** What the staff reads at its mark is asked for with the mark, and until it is given. */
  function showMarkRows() {
    const { values } = state();
    const booked = (role) => values.sights.some((sight) => sight.role === role);
    const due = (role, text) => values.next.role === role || (!text.trim() && booked(role));
    show(byId("staff-row"), due("staff_mark", values.staff_text));
    show(byId("tail-row"), due("tail_mark", values.tail_text));
  }

  function showSight() {
    const { values } = state();
    const { next, editing, sights } = values;
    const allowed = editing === null ? kindsAfter(sights) : [next.kind];
    for (const box of form.elements.kind) {
      box.disabled = !allowed.includes(box.value);
      box.checked = box.value === next.kind;
    }
    fillPoints();
    form.elements.reading.value = next.text;
    form.elements.sight_length.value = next.distance_text ?? "";
    byId("sight-title").textContent =
      editing === null ? "Next sight" : `Change ${next.kind.toUpperCase()} ${next.point}`;
    byId("book-it").textContent = editing === null ? "Book it" : "Write it anew";
    show(byId("strike"), editing !== null && (next.kind === "is" || editing === sights.length - 1));
    show(byId("leave"), editing !== null);
    showMarkRows();
  }

  function setKind(kind) {
    const { values } = state();
    const { next, sights } = values;
    next.kind = kind;
    if (kind === "fs") Object.assign(next, { role: "turning_point", point: turningPoint(sights) });
    if (kind === "is") Object.assign(next, { ...offer(sights), kind, text: next.text });
    fillPoints();
    showMarkRows();
  }

  function setPoint(value) {
    const { values } = state();
    const [role, point] = value.split("|");
    Object.assign(values.next, { role, point });
    show(byId("point-row"), !point);
    form.elements.point.value = point;
    if (!point) form.elements.point.focus();
    showMarkRows();
    if (!values.sights.length) startFrom(role === "benchmark" ? point : "");
  }

  /** A run that begins on a known benchmark begins at its level; on another point nobody's is kept. */
  function startFrom(name) {
    const { values, place } = state();
    const rl_m = place.survey.benchmarks.find((mark) => mark.name === name)?.rl_m ?? null;
    if (values.start_text.trim() && values.start_text !== values.opened_on) return;
    const level = rl_m === null || values.unit !== "m" ? "" : figure(rl_m, 4);
    values.start_text = values.opened_on = form.elements.start_text.value = level;
  }

  function missing({ next, unit, ...book }) {
    const read = readSight(next.text, unit, book);
    if (read === null) return "Type the reading.";
    if (read.problem) return read.problem;
    if (read.question) return `Answer "${read.question}" first.`;
    if (
      next.distance_text?.trim() &&
      !(
        parseNumber(next.distance_text, { high: 999 }) > 0 &&
        parseNumber(next.distance_text, { high: 999 }) <= 300
      )
    ) {
      return "The length of the sight is metres from the instrument to the staff, at most 300.";
    }
    return next.point.trim() ? "" : "Name the point.";
  }

  function bookIt() {
    const { values } = state();
    const { next, sights, editing } = values;
    const words = missing(values);
    say(words);
    if (words) return;
    const sight = {
      kind: next.kind,
      point: next.point.trim(),
      role: next.role,
      text: next.text.trim(),
      distance_text: (next.distance_text ?? "").trim(),
      struck: [],
    };
    if (editing === null) sights.push(sight);
    else writeAnew(sights, editing, sight);
    values.editing = null;
    values.next = offer(sights);
    showSight();
    changed();
    form.elements.reading.focus({ preventScroll: true });
    byId("sight").scrollIntoView({ block: "end" });
  }

  /** What stood there first is struck out and stays readable; a turning point keeps one name. */
  function writeAnew(sights, place, sight) {
    const { text, struck = [] } = sights[place];
    sights[place] = { ...sight, struck: text === sight.text ? struck : [...struck, text] };
    const after = sights[place + 1];
    if (sight.kind === "fs" && after?.kind === "bs")
      Object.assign(after, { point: sight.point, role: sight.role });
  }

  function strike() {
    const { values } = state();
    const [gone] = values.sights.splice(values.editing, 1);
    values.removed.push(`${gone.point} ${gone.kind.toUpperCase()} ${gone.text}`);
    change(null);
  }

  function change(index) {
    const { values } = state();
    values.editing = index;
    const sight = index === null ? null : values.sights[index];
    values.next = sight
      ? {
          kind: sight.kind,
          point: sight.point,
          role: sight.role,
          text: sight.text,
          distance_text: sight.distance_text ?? "",
        }
      : offer(values.sights);
    say("");
    showSight();
    changed();
    if (!sight) return;
    byId("sight").scrollIntoView({ block: "center" });
    form.elements.reading.focus();
    form.elements.reading.select();
  }

  /** What the typed reading means before it is booked: its level, or a question about the unit. */
  function drawTyped() {
    const { values } = state();
    const { next, unit, editing, sights } = values;
    const read = readSight(next.text, unit, values);
    ask(read);
    const sight = {
      kind: next.kind,
      point: next.point.trim() || "this point",
      role: next.role,
      text: next.text,
    };
    const booked = read?.value !== undefined && editing === null;
    drawLevelNow(
      booked ? reduce({ ...values, sights: [...sights, sight] }).run : null,
      next.text.trim(),
    );
  }

  function ask(read) {
    const { values } = state();
    const put = (text) => {
      values.next.text = form.elements.reading.value = text;
      changed();
    };
    const keep = (text) => {
      values.kept = [...(values.kept ?? []), text];
      put(text);
    };
    drawAsk(byId("reading-ask"), read, { agree: put, keep });
  }

  return { show: showSight, setKind, setPoint, bookIt, strike, change, drawTyped };
}

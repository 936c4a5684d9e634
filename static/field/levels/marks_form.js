/** Benchmarks of a site: what they are, how firm, where; a new one is kept on this phone at once. */
import { byId, el, fill } from "../../shared/dom.js";
import { parseNumber } from "../../shared/numbers.js";
import { stateMark, stateWord } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
import { entryForm } from "../shell/entry_form.js";
import { photoBox } from "../shell/photos_box.js";
import { observedAt, text } from "../typed/text.js";

const MARK_WORDS = {
  bolt: "bolt in concrete",
  pin: "driven pin",
  plate: "plate",
  building: "part of a building",
  rock: "rock",
  post: "post",
  other: "other mark",
};

export function markEntry(values, { site, visitId, personId, record, id, now }) {
  return {
    id,
    kind: "benchmark",
    site_id: site.id,
    structure_id: null,
    visit_id: visitId ?? null,
    observed_at: observedAt({ record }, now),
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: null,
    reason: null,
    body: {
      name: values.name.trim(),
      mark: values.mark,
      stability: values.stability,
      rl_m: values.rl_text.trim() ? parseNumber(values.rl_text, { high: 999 }) : null,
      datum: values.datum.trim(),
      place: values.place.trim(),
    },
  };
}

export function markProblem(values) {
  if (!values.name.trim()) return "Give the mark a name.";
  if (values.rl_text.trim() && parseNumber(values.rl_text, { high: 999 }) === null)
    return `"${values.rl_text.trim()}" is not a level in metres.`;
  return "";
}

/** Known marks of the office and of this phone; the newest description of a name stands. */
export async function drawMarks(place, context) {
  const here = (await context.outbox.all()).filter(
    ({ id, entry, state }) =>
      entry.kind === "benchmark" &&
      entry.site_id === place.site.id &&
      state !== "replaced" &&
      place.stand.stands(id),
  );
  const byName = new Map(
    place.survey.benchmarks.map((mark) => [mark.name, { ...mark, state: "at the office" }]),
  );
  for (const record of here) {
    const known = byName.get(record.entry.body.name);
    if (known?.id !== record.id)
      byName.set(record.entry.body.name, {
        ...record.entry.body,
        id: record.id,
        moved: known?.moved ?? [],
        state: stateWord(record),
      });
  }
  place.survey = { ...place.survey, benchmarks: [...byName.values()] };
  fill(
    byId("mark-list"),
    byName.size
      ? el("ul", { class: "rows" }, [...byName.values()].map(markRow))
      : el(
          "p",
          { class: "aside" },
          "None described yet. Two or more that will not move are needed.",
        ),
  );
}

function markRow(mark) {
  const level =
    mark.rl_m === null || mark.rl_m === undefined ? "no level given" : `${mark.rl_m.toFixed(4)} m`;
  return el(
    "li",
    { class: "reading-row" },
    el("div", { class: "line" }, el("strong", {}, mark.name), stateMark(mark.state)),
    el(
      "p",
      {},
      `${level}${mark.datum ? `, ${mark.datum}` : ""} \u00b7 ${MARK_WORDS[mark.mark]}, ${mark.stability}`,
    ),
    mark.place ? el("p", { class: "aside" }, mark.place) : null,
    (mark.moved ?? []).map((words) => el("p", { class: "problem" }, words)),
  );
}

const NAMES = ["name", "mark", "stability", "rl_text", "datum", "place"];

/** A described mark back in the form, to put it right. */
const valuesOfMark = ({ body }) => ({ ...body, rl_text: text(body.rl_m) });

export async function startMarks(place, context) {
  const form = byId("mark-form");
  const { record } = place();
  const mine = record?.entry.kind === "benchmark" ? record : null; // else a run is put right: not this form
  const where = () => ({
    ...place(),
    structure: null,
    record: mine,
    refusedId: mine ? place().refusedId : null,
    corrects: mine ? place().corrects : null,
  });
  const read = () => Object.fromEntries(NAMES.map((name) => [name, form.elements[name].value]));
  const write = (values) =>
    NAMES.forEach((name) => (form.elements[name].value = values[name] ?? ""));
  const clean = read();
  const life = entryForm({
    form,
    problem: byId("mark-problem"),
    buttons: [byId("mark-save")],
    noun: "benchmark",
    title: () => `Benchmark, ${place().site.name}`,
    isHalf: ({ form: typed }) =>
      ["name", "rl_text", "datum", "place"].some((name) => typed[name].trim()),
  });
  const begin = async () => {
    const first = mine ? valuesOfMark(mine.entry) : clean;
    const { form: typed } = await life.open(context, where(), {
      bareKey: `benchmark:${place().site.id}${mine ? `:${mine.id}` : ""}`,
      start: () => ({ id: uuid7(), form: first }),
    });
    write(typed);
    if (typed !== clean) byId("marks").open = true;
    life.rest();
  };
  const photos = photoBox(
    context,
    () => ({
      ...place(),
      structure: null,
      of: life.values?.id,
      before: mine?.id,
      place: `benchmark ${form.elements.name.value.trim()}`,
    }),
    { title: "Photo of the mark", hint: "One from close by, one with the surroundings." },
  );
  byId("mark-photos").append(photos.node);
  await begin();
  photos.draw();
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.tagName === "INPUT") event.preventDefault();
  });
  form.addEventListener("input", () => {
    life.values.form = read();
    life.typed();
  });
  form.addEventListener("submit", (event) =>
    life.save(event, {
      problems: () => markProblem(read()),
      entry: () =>
        markEntry(read(), { ...where(), id: life.values.id, now: new Date().toISOString() }),
      done: async () => {
        form.reset();
        if (mine)
          byId("mark-save").remove(); // put right: there is no second one
        else await begin();
        await photos.draw();
        await drawMarks(place(), context);
      },
    }),
  );
}

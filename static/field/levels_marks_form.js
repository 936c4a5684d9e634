/** Benchmarks of a site: what they are, how firm, where; a new one is kept on this phone at once. */
import { byId, el, fill } from "./dom.js";
import { parseNumber } from "./numbers.js";
import { photoBox } from "./photos_box.js";
import { stateMark, stateWord } from "./states.js";
import { uuid7 } from "./uuid7.js";

const MARK_WORDS = {
  bolt: "bolt in concrete",
  pin: "driven pin",
  plate: "plate",
  building: "part of a building",
  rock: "rock",
  post: "post",
  other: "other mark",
};

export function markEntry(values, { site, visitId, personId, id, now }) {
  return {
    id,
    kind: "benchmark",
    site_id: site.id,
    structure_id: null,
    visit_id: visitId ?? null,
    observed_at: now,
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
      note: "",
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
    ({ entry, state }) => entry.kind === "benchmark" && entry.site_id === place.site.id && state !== "replaced",
  );
  const byName = new Map(place.survey.benchmarks.map((mark) => [mark.name, { ...mark, state: "at the office" }]));
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
      : el("p", { class: "aside" }, "None described yet. Two or more that will not move are needed."),
  );
}

function markRow(mark) {
  const level = mark.rl_m === null || mark.rl_m === undefined ? "no level given" : `${mark.rl_m.toFixed(4)} m`;
  return el(
    "li",
    { class: "reading-row" },
    el("div", { class: "line" }, el("strong", {}, mark.name), stateMark(mark.state)),
    el("p", {}, `${level}${mark.datum ? `, ${mark.datum}` : ""} \u00b7 ${MARK_WORDS[mark.mark]}, ${mark.stability}`),
    mark.place ? el("p", { class: "aside" }, mark.place) : null,
    (mark.moved ?? []).map((words) => el("p", { class: "problem" }, words)),
  );
}

export function startMarks(place, context) {
  const form = byId("mark-form");
  const key = () => `benchmark:${place().site.id}`;
  let id = uuid7();
  const read = () =>
    Object.fromEntries(
      ["name", "mark", "stability", "rl_text", "datum", "place"].map((name) => [name, form.elements[name].value]),
    );
  const photos = photoBox(
    context,
    () => ({ ...place(), structure: null, of: id, place: `benchmark ${form.elements.name.value.trim()}` }),
    { title: "Photo of the mark", hint: "One from close by, one with the surroundings." },
  );
  byId("mark-photos").append(photos.node);
  context.drafts.get(key()).then((draft) => {
    if (!draft) return;
    id = draft.values.id;
    for (const [name, value] of Object.entries(draft.values.form)) form.elements[name].value = value;
    byId("marks").open = true;
    photos.draw();
  });
  const drafts = context.drafts;
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.tagName === "INPUT") event.preventDefault();
  });
  form.addEventListener("input", () => {
    byId("mark-problem").textContent = "";
    const page = { href: location.pathname + location.search, title: `Benchmark, ${place().site.name}` };
    drafts
      .keep(key(), { id, form: read() }, page)
      .catch((error) => (byId("mark-problem").textContent = `This phone cannot keep the draft: ${error.message}`));
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const values = read();
    const problem = markProblem(values);
    byId("mark-problem").textContent = problem;
    if (problem) return;
    try {
      await drafts.settle();
      await context.outbox.hold(markEntry(values, { ...place(), id, now: new Date().toISOString() }), key());
      form.reset();
      id = uuid7();
      await photos.draw();
      await drawMarks(place(), context);
      await context.showState();
      context.send();
    } catch (error) {
      byId("mark-problem").textContent = `NOT kept: ${error.message}. The form is still here.`;
    }
  });
}

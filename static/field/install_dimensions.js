/** As-built dimensions of a structure, measured in mm, repeats with spaces between. */
import { el } from "./dom.js";
import { dimensionBody } from "./install_entry.js";
import { stateMark } from "./states.js";
import { uuid7 } from "./uuid7.js";

export async function drawDimensions(box, context, place) {
  const { site, structure, dimensions } = place;
  const key = `dimensions:${structure.id}`;
  const draft = await context.drafts.get(key);
  let { id, texts, sure = [] } = draft?.values ?? { id: uuid7(), texts: {} };
  const ask = el("div", { class: "ask" });
  const problem = el("p", { class: "problem", role: "alert" });
  const kept = el("p", { role: "status" });
  const row = ({ key: name, label, named_m }) => {
    const input = el("input", {
      name,
      type: "text",
      maxlength: "60",
      placeholder: named_m ? `named ${Math.round(named_m * 1e4) / 10}` : "",
    });
    input.value = texts[name] ?? "";
    return el("label", { class: "field" }, `${label}, mm`, input);
  };
  const form = el(
    "form",
    { class: "panel", autocomplete: "off", novalidate: true, "aria-label": "As-built dimensions" },
    el("h2", {}, "As-built dimensions"),
    el(
      "p",
      { class: "aside" },
      "Measure what was built, not what was named. Several measurements of one dimension: with spaces between.",
    ),
    dimensions.length
      ? dimensions.map(row)
      : el("p", {}, "This kind of structure names no lengths. Measure the throat width."),
    dimensions.length ? null : row({ key: "throat_width", label: "Throat width", named_m: null }),
    el("label", { class: "field" }, "Measured with", el("input", { name: "instrument", maxlength: "200" })),
    problem,
    ask,
    kept,
    el("button", {}, "Save the dimensions"),
  );
  /** The figure asked about, with its answers: one tap puts one in its place in the box. */
  function drawAsked(one) {
    const answer = (text) => {
      const box = form.elements[one.key];
      if (text === one.one) sure = [...sure, text];
      box.value = box.value.split(/(?<=[\s;])|(?=[\s;])/).map((part) => (part === one.one ? text : part)).join("");
      box.dispatchEvent(new Event("input", { bubbles: true }));
      form.requestSubmit();
    };
    ask.replaceChildren(
      ...(one?.answers ?? []).map((text) =>
        el("button", { type: "button", class: "agree", onclick: () => answer(text) }, text === one.one ? `${text} mm, as typed` : `${text} mm?`),
      ),
    );
  }

  form.addEventListener("input", ({ target }) => {
    ask.replaceChildren();
    texts[target.name] = target.value;
    problem.textContent = "";
    context.drafts
      .keep(key, { id, texts, sure }, { href: location.pathname + location.search, title: `Dimensions, ${site.name}` })
      .catch((error) => (problem.textContent = `This phone cannot keep the draft: ${error.message}`));
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const asked = dimensions.length ? dimensions : [{ key: "throat_width", label: "Throat width" }];
    const found = dimensionBody(texts, asked, texts.instrument ?? "", sure);
    problem.textContent = found.problem;
    drawAsked(found.asked);
    if (!found.body) return;
    const now = new Date().toISOString();
    try {
      await context.drafts.settle();
      await context.outbox.hold(
        {
          id,
          kind: "dimension_check",
          site_id: site.id,
          structure_id: structure.id,
          visit_id: place.visitId,
          observed_at: now,
          utc_offset_min: site.utc_offset_min,
          by: place.personId,
          saved_at: now,
          corrects: null,
          reason: null,
          body: found.body,
        },
        key,
      );
      kept.replaceChildren(
        stateMark("on this phone"),
        ` ${found.body.dimensions.map(({ label }) => label).join(", ")}`,
      );
      form.reset();
      [id, texts, sure] = [uuid7(), {}, []];
      await context.showState();
      context.send();
    } catch (error) {
      problem.textContent = `NOT saved: ${error.message}. The form is still here.`;
    }
  });
  box.replaceChildren(form);
}

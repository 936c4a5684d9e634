/**
 * One life of a phone form: whose it is, half filled and back again, put right or corrected, saved.
 *
 * A page makes one with `entryForm({...})`, opens it once the place is known, calls `typed()` after
 * every change and `save()` on submit. What a form says above itself is loaded when there is
 * something to say (form_notices.js).
 */
import { address, byId, fill, query, show } from "../../shared/dom.js";
import { offsetWords } from "../../shared/format.js";
import { ownKey } from "../keep/drafts.js";
import { findSite, findStructure } from "../keep/pack.js";
import { setHalfFilled } from "./start.js";

/**
 * Where an entry belongs and who makes it: {site, structure, record, personId, name, visitId,
 * corrects, refusedId}, from the address: ?structure or ?site, ?visit, or ?correct=ID and ?fix=ID
 * of an entry of one of `kinds`. `site` or `record` is null when this phone does not hold it.
 */
export async function placeOf(ctx, pack, kinds, asked = query()) {
  const earlier = asked.correct ?? asked.fix;
  const found = earlier ? await ctx.outbox.get(earlier) : null;
  const mayBe = !asked.fix || found?.state === "refused";
  const record = found && mayBe && kinds.includes(found.entry.kind) ? found : null;
  const entry = record?.entry;
  const place = findStructure(pack, entry ? entry.structure_id : asked.structure);
  if (place.structure) place.structure = await structureNow(ctx, pack, place.structure);
  place.site ??= findSite(pack, entry ? entry.site_id : asked.site);
  if (earlier && !record) place.site = place.structure = null;
  return {
    ...place,
    record,
    personId: pack.person.id,
    name: pack.person.name,
    visitId: (entry ? entry.visit_id : asked.visit) ?? null,
    corrects: asked.correct ?? entry?.corrects ?? null,
    refusedId: asked.fix ?? null,
  };
}

/** A structure with the gauge zeros that were levelled on this phone and are not in the pack yet. */
export async function structureNow(ctx, pack, structure) {
  const records = await ctx.outbox.all();
  if (!records.some(({ entry }) => entry.kind === "level_run" && entry.body.set_zero))
    return structure;
  return (await import("../levels/provisional.js")).withZerosHere(structure, pack, records);
}

/** The way back and the clock's zone: the same on every form. */
export function dressPlace({ site, visitId }) {
  byId("back").href = address(visitId ? "/field/visit" : "/field/site", {
    id: visitId ? null : site.id,
    visit: visitId,
  });
  byId("back").lastChild.textContent = visitId ? " Visit" : ` ${site.name}`;
  document
    .querySelectorAll(".zone")
    .forEach((node) => (node.textContent = `(${offsetWords(site.utc_offset_min)})`));
}

export function notHere(what, node = byId("form")) {
  byId("title").textContent = "Not on this phone";
  const gone = query().fix
    ? "It may have been put right or sent: look in the outbox."
    : "Go back to the sites.";
  fill(node, `This phone does not hold that ${what} to fill in. ${gone}`);
}

/** Put values into the boxes of their names; a list of texts ticks boxes. */
export function fillBoxes(form, values) {
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements[name];
    if (!field) continue;
    if (Array.isArray(value))
      for (const box of field.length === undefined ? [field] : field)
        box.checked = value.includes(box.value);
    else if (typeof value === "boolean") field.checked = value;
    else if (typeof value === "string") field.value = value;
  }
}

/**
 * `title(place)` names a draft; `isHalf(values)` says whether one is worth keeping; `boxOf` gives
 * the box of a field of the body ("heads", "1", "staff_m"), where its name does not. `look` is the
 * part of `draw` that a Save needs: what is typed, as of now.
 */
export function entryForm({
  form = byId("form"),
  problem = byId("problem"),
  buttons = [byId("save")],
  title,
  isHalf,
  boxOf = () => null,
  draw = () => {},
  look = draw,
  noun = "form",
}) {
  let ctx = null;
  let place = null;
  let key = "";
  let bare = "";
  let notices = null;
  let asksWhy = false; // a form without a box for the reason of a correction is given one
  const life = {
    values: null,
    isSaved: false,
    open,
    typed,
    say,
    notSaved,
    save,
    rest,
    refresh,
    context: () => ctx,
  };

  function say(words) {
    problem.textContent = words;
    show(problem, Boolean(words));
  }

  function notSaved(error) {
    say(`NOT saved: ${error.message}. The ${noun} is still here; write the figures on paper too.`);
  }

  const cannotKeep = (error) =>
    say(`This phone cannot keep the draft: ${error.message}. Write the figures on paper too.`);
  const page = () => ({
    bare,
    by: place.personId,
    by_name: place.name,
    href: location.pathname + location.search,
    title: title(place),
  });

  /** `start()` gives the values of an empty form or of the entry; returns them or the draft's. */
  async function open(context, where, { bareKey, start }) {
    [ctx, place, bare] = [context, where, bareKey];
    key = ownKey(bare, place.personId);
    const drafts = (await ctx.drafts.all()).filter((one) => (one.bare ?? one.key) === bare);
    const draft = drafts.find((one) => one.key === key);
    life.values = { ...start(), ...draft?.values }; // a draft of an older release lacks what is new
    asksWhy ||= Boolean(place.corrects) && !form.elements.reason;
    if (asksWhy) life.values.reason ??= "";
    if (place.refusedId && !draft && "reason" in life.values)
      life.values.reason = place.record.entry.reason ?? "";
    if (asksWhy) (await import("../base/why.js")).drawWhy(form, problem, life);
    life.isSaved = false;
    const others = drafts.filter((one) => one !== draft);
    if (draft || others.length || place.record) {
      const { makeNotices } = await import("./form_notices.js");
      notices = makeNotices({ context, form, place, draft, others, noun, boxOf, discard });
    }
    return life.values;
  }

  /** After the boxes are drawn: what is to be said above them, and the fault beside its box. */
  function rest() {
    notices?.draw(life.values);
  }

  async function discard() {
    await ctx.drafts.discard(key);
    location.reload();
  }

  /** Something changed: keep the draft, then show what it means. */
  function typed() {
    const half = isHalf(life.values) || Boolean(asksWhy && life.values.reason.trim());
    setHalfFilled(half);
    const kept = half
      ? ctx.drafts.keep(key, structuredClone(life.values), page())
      : ctx.drafts.discard(key);
    kept.catch(cannotKeep);
    say("");
    refresh();
  }

  function refresh() {
    draw();
    setHalfFilled(isHalf(life.values));
    notices?.again(life.values);
  }

  /** With what the form does not show of the earlier entry, and with what it corrects and why. */
  async function whole(made, earlier) {
    if (!earlier) return made;
    const { withUnshown } = await import("../base/unshown.js");
    const link = asksWhy ? { corrects: place.corrects, reason: life.values.reason.trim() } : {};
    return { ...withUnshown(made, earlier), ...link };
  }

  /**
   * Save once `problems()` says nothing. `entry()` makes it, `done(entry)` shows that it is saved;
   * it takes the place of the refused one when there is one. `earlier()` is the entry that it
   * corrects, where that is not the one of the address: what the form does not show stays.
   */
  async function save(event, { problems = () => "", entry, done, earlier = () => place.record }) {
    event.preventDefault();
    look();
    const words =
      problems() ||
      (place.corrects && life.values.reason !== undefined && !life.values.reason.trim()
        ? "Say why it is corrected."
        : "");
    say(words);
    if (words) return form.querySelector(".ask button")?.scrollIntoView({ block: "center" }); // the question is the way on
    for (const button of buttons) button.disabled = true;
    try {
      const made = await whole(await entry(), earlier());
      await ctx.drafts.settle();
      if (place.refusedId) await ctx.outbox.replace(place.refusedId, made, key);
      else await ctx.outbox.hold(made, key);
      life.isSaved = true;
      setHalfFilled(false);
      notices?.clear();
      await done(made);
      await ctx.showState();
      ctx.send();
    } catch (error) {
      notSaved(error);
    }
    for (const button of buttons) button.disabled = false;
  }

  return life;
}

/** What stands in the place of a saved form. */
export function showSaved(form, ...nodes) {
  show(form, false);
  fill(byId("saved"), ...nodes);
  show(byId("saved"), true);
  byId("saved").querySelector("a")?.focus({ preventScroll: true });
  window.scrollTo(0, 0);
}

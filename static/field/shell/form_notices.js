/**
 * What a form says above itself: a half-filled form that is back, whose another one is, why a
 * entry was not accepted; and beside the box, what is wrong with it.
 */
import { el, show } from "../../shared/dom.js";
import { faultPath, fieldWords, refusalWhy } from "../base/fault_words.js";
import { ownKey } from "../keep/drafts.js";
import { ago } from "../keep/recent.js";

const BOXES = "input:not([type=file]):not([type=hidden]), select, textarea";
/** What an entry is made of besides its body, in people's words. */
const ENVELOPE = {
  site_id: "Site",
  structure_id: "Structure",
  observed_at: "Time",
  reason: "Why it is corrected",
  visit_id: "Visit",
  corrects: "The entry it corrects",
};

/** A box's name as the form prints it. */
function printedName(node) {
  const spoken = node.getAttribute?.("aria-label");
  if (spoken) return spoken;
  const label = node.matches("label") ? node : node.closest("label");
  const inside = label ? [] : [...node.querySelectorAll(BOXES)];
  if (inside.length === 1) return printedName(inside[0]);
  if (node.matches("tr, li"))
    return (node.querySelector("button, span, td") ?? node).textContent.trim();
  const from =
    label ??
    node.closest("fieldset")?.querySelector("legend") ??
    node.querySelector?.("legend, h2, h3") ??
    null;
  if (!from) return "";
  const copy = from.cloneNode(true);
  copy
    .querySelectorAll(`${BOXES}, .hint, .zone, .unit, .unit-text, .ask`)
    .forEach((one) => one.remove());
  return copy.textContent.replace(/\s+/g, " ").trim();
}

/** The unit that a box is typed in: beside it, or at the end of its name; empty for none. */
function boxUnit(node) {
  const around = node?.closest(".with-unit, label") ?? node;
  const beside = (around?.querySelector(".unit") ?? node?.querySelector?.(".unit"))?.textContent;
  return beside?.trim() || (/, (mm|m)$/.exec(node ? printedName(node) : "")?.[1] ?? "");
}

/** The box of a path by the names of the boxes, from the most exact name to the plainest. */
function boxByName(form, path) {
  const numbers = path.filter((part) => /^\d+$/.test(part)).map(Number);
  const words = path.filter((part) => !/^\d+$/.test(part)).reverse();
  for (const word of words) {
    const named = [...form.querySelectorAll(BOXES)].filter(
      ({ name }) => name && (name === word || name === word.replace(/_(m|mm|pct|km)$/, "_text")),
    );
    if (!named.length) continue;
    if (["radio", "checkbox"].includes(named[0].type))
      return named[0].closest("fieldset") ?? named[0];
    return named[numbers.at(-1) ?? 0] ?? named[0];
  }
  return null;
}

/** The box whose label shares a word with the field: for lists that have no names. */
function boxByWords(form, path) {
  const wanted = (path.filter((part) => !/^\d+$/.test(part)).at(-1) ?? "")
    .split("_")
    .filter((word) => word.length > 3);
  return (
    [...form.querySelectorAll(BOXES)].find((box) => {
      const printed = printedName(box).toLowerCase();
      return wanted.some((word) => printed.includes(word.replace(/s$/, "")));
    }) ?? null
  );
}

/** Give a draft without an owner to the person who says that it is theirs. */
async function adopt(database, key, { personId, name }) {
  const tx = (await database()).transaction("drafts", "readwrite", { durability: "strict" });
  const drafts = tx.objectStore("drafts");
  const draft = await drafts.get(key);
  if (draft && draft.by === undefined) {
    await drafts.put({
      ...draft,
      key: ownKey(key, personId),
      bare: key,
      by: personId,
      by_name: name,
    });
    await drafts.delete(key);
  }
  await tx.done;
}

export function makeNotices({ context, form, place, draft, others, noun, boxOf, discard }) {
  const { record, refusedId } = place;
  const refusal = refusedId ? record.refusal : null;
  const held = el("div", { class: "stack", id: "form-notices" });
  let heard = false;

  function find(values) {
    const path = faultPath(refusal.field);
    const node = boxOf(path, values) ?? boxByName(form, path) ?? boxByWords(form, path);
    return node && form.contains(node) ? node : null;
  }

  const why = (values) =>
    refusalWhy(refusal, {
      boxUnit: boxUnit(find(values)),
      utcOffsetMin: record.entry.utc_offset_min,
    });

  /** Beside the box: open what hides it, mark it, and say the rule. */
  function mark(values) {
    if (!refusal || heard || form.querySelector("#fault")) return;
    const node = find(values);
    if (!node) return;
    for (let up = node; up && up !== form; up = up.parentElement) {
      if (up.tagName === "DETAILS") up.open = true;
      if (up.hidden) show(up, true);
    }
    const box = node.matches(BOXES)
      ? node
      : (node.querySelector(BOXES) ?? node.querySelector("button"));
    box?.setAttribute("aria-invalid", "true");
    box?.setAttribute(
      "aria-describedby",
      [box.getAttribute("aria-describedby"), "fault"].filter(Boolean).join(" "),
    );
    const words = el("p", { class: "problem fault", id: "fault" }, `Not accepted: ${why(values)}`);
    const row = node.closest("tr");
    if (row) row.after(el("tr", {}, el("td", { colspan: "9" }, words)));
    else if (node.matches("fieldset, section, details, li, div")) node.append(words);
    else (node.closest("label") ?? node.closest(".with-unit") ?? node).after(words);
  }

  function name(values) {
    const path = faultPath(refusal.field);
    const node = find(values);
    return (
      (node && printedName(node)) ||
      (path.length === 1 && ENVELOPE[path[0]]) ||
      fieldWords(refusal.field)
    );
  }

  function lines(values) {
    const found = [];
    if (refusal) {
      const box = find(values);
      found.push(
        el(
          "div",
          { class: "notice", id: "refused" },
          el(
            "p",
            {},
            el("strong", {}, `Not accepted: ${name(values)}. `),
            why(values),
            " ",
            refusal.remedy,
          ),
          el(
            "p",
            {},
            `What you typed is here. Saving puts it in the place of the refused ${noun}; until then that one stays on this phone.`,
          ),
          box ? el("button", { type: "button", onclick: go }, "Go to the box") : null,
        ),
      );
    } else if (record)
      found.push(
        el(
          "p",
          { class: "notice", id: draft ? null : "restored" },
          "This makes a correction. The first entry stays as it was.",
        ),
      );
    if (draft)
      found.push(
        el(
          "p",
          { class: "notice", id: "restored" },
          `Your half-filled ${noun} is back. `,
          el("button", { type: "button", onclick: discard }, "Discard it"),
        ),
      );
    for (const one of others) {
      const owner = one.by === undefined ? null : one.by_name || `person ${one.by}`;
      found.push(
        el(
          "p",
          { class: "notice others" },
          owner
            ? `${owner} has a half-filled ${noun} here, typed ${ago(one.typed_at)}. It is kept for ${owner}.`
            : `A half-filled ${noun} from an earlier version is here, typed ${ago(one.typed_at)}; the phone did not note whose. `,
          owner || draft
            ? null
            : el("button", { type: "button", onclick: () => take(one) }, "It is mine"),
        ),
      );
    }
    return found;
  }

  async function take(one) {
    await adopt(context.database, one.key, place);
    location.reload();
  }

  function go() {
    const fault = form.querySelector("#fault");
    const box = form.querySelector('[aria-invalid="true"]');
    (fault ?? form).scrollIntoView({ block: "center" });
    box?.focus({ preventScroll: true });
  }

  return {
    draw(values) {
      held.replaceChildren(...lines(values));
      if (!held.isConnected) form.before(held);
      mark(values);
      form.addEventListener("input", ({ target }) => {
        if (target.getAttribute("aria-invalid") === "true")
          target.setAttribute("aria-invalid", "false");
      });
    },
    again: mark,
    clear() {
      heard = true;
      held.remove();
      form.querySelector("#fault")?.remove();
    },
  };
}

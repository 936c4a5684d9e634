/** Every entry on this phone with its state and reason; send now, save to a file, put right. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { dischargeLine } from "../../shared/format.js";
import { fieldWords, shownValue } from "../base/fault_words.js";
import { KINDS, kindWords } from "../base/kinds.js";
import { stateMark, stateWord } from "../base/states.js";
import { ago, nameIn, reviewedIds } from "../keep/recent.js";
import { standingHere } from "../keep/standing.js";
import { startPage } from "../shell/start.js";

const ORDER = { refused: 0, waiting: 1, stored: 2, replaced: 3 };
let context = null;

async function draw(ctx, pack) {
  context = ctx;
  const records = (await ctx.outbox.all())
    .reverse()
    .sort((a, b) => ORDER[a.state] - ORDER[b.state]);
  const unsent = records.filter(
    (record) => record.state === "waiting" || record.state === "refused",
  );
  const oldest = unsent.map((record) => record.held_at).sort()[0];
  byId("why").textContent = unsent.length
    ? `Oldest not at the office: ${ago(oldest)}.`
    : "Everything saved on this phone is at the office.";
  byId("file").disabled = unsent.length === 0;
  const known = reviewedIds(pack);
  const stand = standingHere(pack, records);
  fill(
    byId("entries"),
    records.map((record) => row(record, pack, known, stand)),
  );
  const drafts = await ctx.drafts.all();
  fill(
    byId("drafts"),
    drafts.map((draft) => draftRow(draft, pack.person.id)),
  );
  show(byId("drafts-part"), drafts.length > 0);
  show(byId("sign-out"), pack.person.id !== null);
  await drawSafe();
}

/** What an entry is, in a few words: "Head reading, as found". */
function recordTitle(entry) {
  const name = kindWords(entry.kind);
  const occasion = entry.body?.occasion ? `, ${entry.body.occasion.replace("_", " ")}` : "";
  return `${entry.corrects ? "Correction: " : ""}${name}${occasion}`;
}

function row(record, pack, known, stand) {
  const { entry } = record;
  const site = pack.sites.find((one) => one.id === entry.site_id);
  const preview = entry.body?.preview;
  const flow = preview ? dischargeLine(preview.discharge_m3s, preview.uncertainty_pct) : null;
  const mine = entry.by === pack.person.id;
  return el(
    "li",
    { class: "reading-row", id: record.id },
    el(
      "div",
      { class: "line" },
      el("strong", {}, recordTitle(entry)),
      stateMark(stateWord(record, known)),
    ),
    el("p", {}, [site?.name ?? `site ${entry.site_id}`, flow].filter(Boolean).join(" \u00b7 ")),
    el("p", { class: "aside" }, `${ago(entry.observed_at)} by ${nameIn(pack)(entry.by)}`),
    record.state === "waiting"
      ? el("p", {}, waitingWhy(record, mine, nameIn(pack)(entry.by)))
      : null,
    record.refusal && record.state === "refused"
      ? el("p", { class: "problem" }, refusalWords(record.refusal))
      : null,
    record.state === "stored" && entry.kind !== "withdrawal" && !stand.stands(record.id)
      ? el(
          "p",
          { class: "aside" },
          "Counts no more: corrected, withdrawn, or without effect at the office.",
        )
      : null,
    record.notes.map((note) => el("p", { class: "aside" }, note)),
    actions(record, mine && (record.state === "refused" || stand.stands(record.id))),
  );
}

function refusalWords({ field, value, rule, remedy }) {
  return `Not accepted. ${[fieldWords(field), shownValue(value)].filter(Boolean).join(" ")}: ${rule}. ${remedy}`;
}

function waitingWhy(record, mine, name) {
  if (!mine) return `Waits until ${name} signs in on this phone, or goes by file.`;
  const again = record.offered_again
    ? "The office was restored from a backup; offered again. "
    : "";
  return again + (context.why || "Waits for its turn.");
}

function actions(record, mine) {
  if (!mine) return null;
  const { page } = KINDS[record.entry.kind] ?? {};
  if (record.state === "refused") {
    return el(
      "div",
      { class: "beside" },
      page ? el("a", { class: "button", href: `${page}?fix=${record.id}` }, "Put it right") : null,
      el("button", { type: "button", onclick: () => offerAgain(record.id) }, "Send it again"),
    );
  }
  if (!page || record.state === "replaced") return null;
  return el("a", { class: "quiet", href: `${page}?correct=${record.id}` }, "Correct it");
}

async function offerAgain(id) {
  await context.outbox.offerAgain(id);
  await context.send();
  await context.drawAgain();
}

/** Only their owner opens a half-filled form; others see that it is there and whose it is. */
function draftRow({ href, title, typed_at, by, by_name }, personId) {
  const typed = `typed ${ago(typed_at)}`;
  if (by !== undefined && by !== personId) {
    const owner = by_name || `person ${by}`;
    return el(
      "li",
      { class: "reading-row" },
      el("strong", {}, title),
      el("p", { class: "aside" }, `${typed} by ${owner}; kept until ${owner} signs in here`),
    );
  }
  const whose =
    by === undefined ? `${typed}, by whom the phone did not note; open it to take it` : typed;
  return el(
    "li",
    {},
    el("a", { class: "row", href }, el("strong", {}, title), el("span", {}, whose)),
  );
}

async function drawSafe() {
  const kept = await navigator.storage?.persisted?.().catch(() => false);
  byId("safe").textContent = kept
    ? "This phone has promised not to clear Sillbook's entries by itself."
    : "This phone may clear what a website keeps when it runs short or is not used for weeks. " +
      "Put Sillbook on the home screen, send often, or save to a file.";
}

byId("send").addEventListener("click", async () => {
  byId("send").disabled = true;
  await context?.send();
  await context?.drawAgain();
  byId("send").disabled = false;
});

byId("file").addEventListener("click", async () => {
  const { saveToFile } = await import("../keep/outbox_file.js");
  await saveToFile(context);
});

byId("sign-out").addEventListener("submit", async (event) => {
  event.preventDefault();
  byId("sign-out-tap").disabled = true;
  const { signOut } = await import("../shell/signed_out.js");
  context.person = undefined; // this page goes on by itself
  const heard = await signOut(context.database, context.fetch);
  if (heard) location.assign("/sign-in?next=/field");
  else location.reload();
});

startPage(draw, { needsPack: false });

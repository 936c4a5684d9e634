/** Every entry on this phone with its state and reason; send now, save to a file, put right. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { fieldWords, refusalWhy } from "../base/fault_words.js";
import { stateMark, stateWord } from "../base/states.js";
import { isUnsent } from "../keep/photos.js";
import { ago, nameIn, reviewedIds } from "../keep/recent.js";
import { standingHere } from "../keep/standing.js";
import { startPage } from "../shell/start.js";
import { recordTitle, resultWords, wayBack } from "./told.js";

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
  const rows = (await (await ctx.photos())?.all()) ?? [];
  const bytesOf = new Map(
    rows.map((one) => [one.sha256, { ...one, unsent: isUnsent(one, records) }]),
  );
  fill(
    byId("entries"),
    records.map((record) =>
      row(record, pack, { known, stand, bytes: bytesOf.get(record.entry.body?.sha256) }),
    ),
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

function row(record, pack, { known, stand, bytes }) {
  const { entry } = record;
  const site = pack.sites.find((one) => one.id === entry.site_id);
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
    el(
      "p",
      {},
      [site?.name ?? `site ${entry.site_id}`, resultWords(entry)].filter(Boolean).join(" \u00b7 "),
    ),
    el("p", { class: "aside" }, `${ago(entry.observed_at)} by ${nameIn(pack)(entry.by)}`),
    bytes ? el("p", { class: "aside" }, bytesWords(bytes, entry.kind)) : null,
    record.state === "waiting"
      ? el("p", {}, waitingWhy(record, mine, nameIn(pack)(entry.by)))
      : null,
    record.refusal && record.state === "refused"
      ? el("p", { class: "problem" }, refusalWords(record.refusal, entry.utc_offset_min))
      : null,
    ["stored", "waiting"].includes(record.state) &&
      entry.kind !== "withdrawal" &&
      !stand.stands(record.id)
      ? el("p", { class: "aside" }, noMore(record, stand))
      : null,
    record.notes.map((note) => el("p", { class: "aside" }, note)),
    actions(record, mine && (record.state === "refused" || stand.stands(record.id))),
  );
}

function refusalWords(refusal, utcOffsetMin) {
  const why = refusalWhy(refusal, { utcOffsetMin });
  return `Not accepted. ${fieldWords(refusal.field)}: ${why} ${refusal.remedy}`;
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
  const way = wayBack(record);
  if (record.state === "refused") {
    return el(
      "div",
      { class: "beside" },
      way ? el("a", { class: "button", href: way.href }, way.words) : null,
      el("button", { type: "button", onclick: () => offerAgain(record.id) }, "Send it again"),
    );
  }
  return way ? el("a", { class: "quiet", href: way.href }, way.words) : null;
}

/** A picture or file goes after all entries, and is not sent before the office has it whole. */
function bytesWords({ unsent, problem, bytes }, kind) {
  const what = kind === "photo" ? "The picture" : "The file";
  const size = `${Math.max(1, Math.round(bytes.byteLength / 1024))} kB`;
  if (problem) return `${what} (${size}) was not taken: ${problem}`;
  return unsent
    ? `${what} (${size}) is still on this phone; it goes after all entries.`
    : `${what} (${size}) is at the office.`;
}

/** Why an entry does not stand: what stands in its place is named. */
function noMore({ id }, stand) {
  return stand.latest(id)
    ? "Corrected: the later entry counts, this one stays as it was."
    : "Counts no more: withdrawn, or without effect at the office.";
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

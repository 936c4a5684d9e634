/**
 * What every field page shares: theme, header, the line that says where the records are, the
 * sender, the update offer. A page calls `startPage(draw)` once.
 */
import { openFieldDatabase } from "./database.js";
import { makeOutbox } from "./outbox.js";
import { makeDrafts } from "./drafts.js";
import { makePack, NO_PACK, phoneId } from "./pack.js";
import { makePost, makeSender, onlyOne, sendWhenPossible } from "./sync.js";
import { uuid7 } from "./uuid7.js";
import { applyTheme, switchTheme } from "./theme.js";
import { watchReleases } from "./release.js";
import { byId, el, show } from "./dom.js";

const PACK_OLD_MS = 10 * 60 * 1000;
const fetchNow = (...args) => window.fetch(...args);

let halfFilled = false;

/** A page with a form says here whether it is half filled, so that no update interrupts it. */
export function setHalfFilled(yes) {
  halfFilled = yes;
  if (byId("update-tap")) byId("update-tap").disabled = yes;
  if (byId("update-wait")) show(byId("update-wait"), yes);
}

function themeButton() {
  const button = byId("theme");
  const label = (sun) => {
    button.setAttribute("aria-pressed", String(sun));
  };
  label(applyTheme(document.documentElement, localStorage));
  button.addEventListener("click", () => label(switchTheme(document.documentElement, localStorage)));
}

function notice(id, ...children) {
  const box = byId("notices");
  byId(id)?.remove();
  if (children.length) box.append(el("div", { id, class: "notice" }, ...children));
}

function offerUpdate(take) {
  notice(
    "update",
    el("p", {}, "A new version of Sillbook is on this phone. Records and drafts stay."),
    el("p", { id: "update-wait", hidden: !halfFilled }, "Save or discard this form first."),
    el("button", { id: "update-tap", type: "button", disabled: halfFilled, onclick: take }, "Use the new version"),
  );
}

function insecureNotice() {
  if (window.isSecureContext) return;
  notice(
    "insecure",
    el("p", {}, el("strong", {}, "No work without signal here: "),
      "this phone reaches the office by plain HTTP. Records are kept on the phone, but the pages " +
      "themselves open only with a connection. Ask the steward for the HTTPS address."),
  );
}

/** The permanent line: how many records are where, and why some wait. */
async function stateLine(context) {
  const pack = await context.pack.read();
  const records = await context.outbox.all();
  const mine = records.filter((r) => r.state === "waiting" && r.entry.by === pack?.person.id).length;
  const others = records.filter((r) => r.state === "waiting").length - mine;
  const refused = records.filter((r) => r.state === "refused").length;
  const photos = (await (await context.photos())?.waiting(records)) ?? 0;
  const parts = [];
  if (mine) parts.push(`${mine} on this phone, to send`);
  if (others) parts.push(`${others} of another person`);
  if (photos) parts.push(`${photos} photo${photos === 1 ? "" : "s"} to send`);
  if (refused) parts.push(`${refused} need${refused === 1 ? "s" : ""} a look`);
  const line = byId("state-line");
  line.dataset.calm = String(parts.length === 0);
  line.textContent = parts.length ? parts.join(" \u00b7 ") : records.length ? "All at the office" : "Nothing to send";
  byId("state-why").textContent = mine && context.why ? context.why : "";
  const signedOut = context.kind === "signed out" || context.kind === "other person";
  notice("signed-out", ...(signedOut && pack ? [signInLink(mine)] : []));
}

function signInLink(count) {
  const next = encodeURIComponent(location.pathname + location.search);
  const words = count ? `Sign in to send ${count}` : "Sign in";
  return el("p", {}, "You are signed out; records and drafts stay on this phone. ",
    el("a", { href: `/sign-in?next=${next}` }, words));
}

async function refreshPack(context, force) {
  const pack = await context.pack.read();
  const old = !pack || Date.now() - Date.parse(pack.made_at) > PACK_OLD_MS;
  if (!old && !force) return pack;
  try {
    const fresh = await context.pack.refresh();
    await context.outbox.noticeEpoch(fresh.server_epoch);
    if (context.kind === "signed out") context.kind = null;
    return fresh;
  } catch (error) {
    if (error.kind === "signed out") Object.assign(context, { kind: error.kind, why: error.message });
    return pack;
  }
}

/** Another person may have signed in where the phone did not see it: ask the office anew. */
function cameFromOutside() {
  const from = document.referrer ? new URL(document.referrer).pathname : "";
  return !from.startsWith("/field");
}

/** What looks after pictures; loaded only on a phone that holds any. */
async function photosHere(database) {
  if (!(await (await database()).count("photos"))) return null;
  return (await import("./photos.js")).makePhotos(database);
}

function makeContext() {
  const database = openFieldDatabase;
  const context = {
    outbox: makeOutbox(database),
    drafts: makeDrafts(database),
    pack: makePack(database, fetchNow),
    photos: () => photosHere(database),
    uuid7,
    kind: null,
    why: "",
    showState: () => stateLine(context),
  };
  const sender = makeSender({
    outbox: context.outbox,
    post: async (entries) => makePost(fetchNow, await phoneId(database, uuid7))(entries),
    person: async () => (await context.pack.read())?.person ?? null,
    alone: onlyOne(navigator.locks),
    after: async (personId) => {
      const photos = await context.photos();
      if ((await photos?.send(context.outbox, fetchNow, personId))?.sent) await context.drawAgain?.();
    },
    onResult: async (result) => {
      const asked = result.sent > 0 || result.left > 0; // else the office was not asked: nothing new
      const news = result.sent > 0 || (asked && result.why !== context.why);
      if (asked) Object.assign(context, { kind: result.kind ?? null, why: result.why });
      if (result.kind === "other person") await refreshPack(context, true);
      if (news) await context.drawAgain?.();
      await stateLine(context);
    },
  });
  context.send = () => sender.send().catch((error) => {
    context.why = `This phone could not send: ${error.message}`;
    return stateLine(context);
  });
  return context;
}

/** Start a page: `draw(context, pack)` is called with what is on the phone, and again when it changes. */
export async function startPage(draw, { needsPack = true } = {}) {
  themeButton();
  insecureNotice();
  const context = makeContext();
  const drawPack = (pack) => {
    show(byId("demo"), pack.demo);
    return draw(context, pack);
  };
  context.drawAgain = async () => {
    const pack = (await context.pack.read()) ?? (needsPack ? null : NO_PACK);
    if (pack) await drawPack(pack);
  };
  try {
    const kept = await context.pack.read();
    if (kept) await drawPack(kept);
    await stateLine(context);
    const fresh = await refreshPack(context, cameFromOutside());
    if (fresh && fresh !== kept) await drawPack(fresh);
    if (!fresh && needsPack) noPackYet(context);
    else if (!fresh) await drawPack(NO_PACK);
    await context.outbox.tidy();
    await (await context.photos())?.tidy(await context.outbox.all());
  } catch (error) {
    notice("broken", el("p", {}, `This phone's storage does not answer: ${error.message}. ` +
      "Write readings on paper, and try again after closing other tabs."));
    throw error;
  } finally {
    watchReleases({
      serviceWorker: navigator.serviceWorker,
      offer: offerUpdate,
      reload: () => location.reload(),
    }).catch((error) => {
      notice("worker", el("p", {}, `Pages cannot be kept for work without signal: ${error.message}`));
    });
  }
  sendWhenPossible(context.send, { window, document });
  navigator.storage?.persist?.().catch(() => {}); // a wish; the outbox page says how it ended
  await context.send();
  await stateLine(context);
}

function noPackYet(context) {
  const main = byId("main");
  const next = encodeURIComponent(location.pathname + location.search);
  const reason = context.kind === "signed out" ? "You are signed out." : "The office cannot be reached just now.";
  for (const part of main.children) show(part, part.tagName === "H1");
  main.append(el("section", { class: "panel" },
    el("h2", {}, "This phone has no sites yet"),
    el("p", {}, `${reason} Sites, ratings and gauge zeros come from the office once; ` +
      "after that this phone works without signal."),
    el("ol", {},
      el("li", {}, "Find a place with signal, or join the office network."),
      el("li", {}, "Sign in. The sites load by themselves."),
      el("li", {}, "Add Sillbook to the home screen, open it once more, and go.")),
    el("p", {}, el("a", { class: "button main", href: `/sign-in?next=${next}` }, "Sign in"))));
}

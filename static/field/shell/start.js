/**
 * What every field page shares: theme, header, the line that says where the entries are, the
 * sender, the update offer. A page calls `startPage(draw)` once.
 */

import { counted } from "../../shared/counted.js";
import { byId, el, show } from "../../shared/dom.js";
import { isCounting } from "../base/counting.js";
import { useThresholds } from "../base/thresholds.js";
import { openFieldDatabase } from "../keep/database.js";
import { makeDrafts } from "../keep/drafts.js";
import { makeOutbox } from "../keep/outbox.js";
import { makePack, NO_PACK } from "../keep/pack.js";
import { makePresence, readSignOut, whenPersonChanges } from "./presence.js";
import { applyTheme, switchTheme } from "./theme.js";

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
  button.addEventListener("click", () =>
    label(switchTheme(document.documentElement, localStorage)),
  );
}

/** Something to be said above the page; the words of the usual cases are in shell_notices.js. */
function notice(id, ...children) {
  byId(id)?.remove();
  if (children.length) byId("notices").append(el("div", { id, class: "notice" }, ...children));
}

async function usual(which, ...more) {
  notice(which, ...(await import("./notices.js"))[which](...more));
}

function offerUpdate(take) {
  usual("update", take, halfFilled);
}

/** The permanent line: how many entries are where, and why some wait. */
async function stateLine(context) {
  const pack = await context.pack.read();
  const records = await context.outbox.all();
  const mine = records.filter(
    (r) => r.state === "waiting" && r.entry.by === pack?.person.id,
  ).length;
  const others = records.filter((r) => r.state === "waiting").length - mine;
  const refused = records.filter((r) => r.state === "refused").length;
  const photos = (await (await context.photos())?.waiting(records)) ?? 0;
  const parts = [];
  if (mine) parts.push(`${mine} on this phone, to send`);
  if (others) parts.push(`${others} of another person`);
  if (photos) parts.push(`${counted(photos, "photo")} to send`);
  if (refused) parts.push(counted(refused, "needs a look", "need a look"));
  const line = byId("state-line");
  line.dataset.calm = String(parts.length === 0);
  line.textContent = parts.length
    ? parts.join(" \u00b7 ")
    : records.length
      ? "All at the office"
      : "Nothing to send";
  byId("state-why").textContent = mine && context.why ? context.why : "";
  const signedOut = context.kind === "signed out" || context.kind === "other person";
  if (signedOut && pack) await usual("signed_out", mine);
  else notice("signed_out");
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
    if (error.kind === "signed out")
      Object.assign(context, { kind: error.kind, why: error.message });
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
  return (await import("../keep/photos.js")).makePhotos(database);
}

function makeContext() {
  const database = openFieldDatabase;
  const pack = makePack(database, fetchNow);
  const { who, mayHold } = makePresence(database, pack);
  const context = {
    database,
    fetch: fetchNow,
    outbox: makeOutbox(database, undefined, mayHold),
    drafts: makeDrafts(database),
    pack,
    person: undefined, // whom the page was drawn for
    photos: () => photosHere(database),
    kind: null,
    why: "",
    showState: () => stateLine(context),
    refreshPack: () => refreshPack(context, true),
    /** Who is signed in; a page that was drawn for somebody else starts anew. */
    present: async () => {
      const person = await who();
      if (context.person !== undefined && context.person !== (person?.id ?? null)) {
        await context.drafts.settle();
        location.reload();
        return null;
      }
      return person;
    },
  };
  // loaded once the page is drawn: sending is nobody's first need
  const sender = async () => (await import("../keep/sender.js")).pageSender(context);
  let sending = null;
  context.send = async () => {
    try {
      return await (await (sending ??= sender())).send();
    } catch (error) {
      sending = null;
      context.why = `This phone could not send: ${error.message}`;
      return stateLine(context);
    }
  };
  return context;
}

async function watch() {
  const { watchReleases } = await import("./release.js");
  await watchReleases({
    serviceWorker: navigator.serviceWorker,
    offer: offerUpdate,
    reload: () => location.reload(),
  });
}

/** Start a page: `draw(context, pack)` is called with what is on the phone, and again when it changes. */
export async function startPage(draw, { needsPack = true } = {}) {
  themeButton();
  if (!window.isSecureContext) usual("insecure");
  const context = makeContext();
  const drawPack = async (pack) => {
    useThresholds(pack.thresholds);
    show(byId("demo"), pack.demo);
    context.person ??= pack.person.id;
    if (context.person === pack.person.id) await draw(context, pack);
    else await context.present();
  };
  whenPersonChanges(context.present);
  context.drawAgain = async () => {
    const pack = (await context.pack.read()) ?? (needsPack ? null : NO_PACK);
    if (pack) await drawPack(pack);
  };
  try {
    if (await readSignOut(context.database)) {
      await (await import("./signed_out.js")).startSignedOut(context);
      return;
    }
    const kept = await context.pack.read();
    if (kept) await drawPack(kept);
    await stateLine(context);
    if (isCounting()) (await import("./countdown.js")).show();
    const fresh = await refreshPack(context, cameFromOutside());
    if (fresh && fresh !== kept) await drawPack(fresh);
    if (!fresh && needsPack) (await import("./signed_out.js")).noPackYet(context);
    else if (!fresh) await drawPack(NO_PACK);
    await context.outbox.tidy();
    await (await context.photos())?.tidy(await context.outbox.all());
  } catch (error) {
    await usual("broken", error);
    throw error;
  } finally {
    watch().catch((error) => usual("worker", error));
  }
  const { sendWhenPossible } = await import("../keep/sync.js");
  sendWhenPossible(context.send, { window, document });
  navigator.storage?.persist?.().catch(() => {}); // a wish; the outbox page says how it ended
  await context.send();
  await stateLine(context);
}

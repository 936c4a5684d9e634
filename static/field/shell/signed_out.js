/**
 * The phone without anybody signed in: after "Sign out", and before the first sites.
 *
 * Signing out holds at once. The office hears of it at the next contact, before anything else is
 * asked of it; only a sign-in made after that opens the phone again. Entries are never touched.
 */
import { counted } from "../../shared/counted.js";
import { address, byId, el, fill, show } from "../../shared/dom.js";
import { askOffice, NoAnswer } from "../keep/office.js";
import { KEY, keepPack } from "../keep/pack.js";
import { sendWhenPossible } from "../keep/sync.js";
import { channel, readSignOut, SIGNED_OUT, whenPersonChanges } from "./presence.js";

const SIGN_OUT_MS = 8000;

/** Change it by `change(now)`; null takes it away. Other pages of this phone hear of it. */
async function writeSignOut(database, change) {
  const tx = (await database()).transaction("kept", "readwrite", { durability: "strict" });
  const now = (await tx.objectStore("kept").get(SIGNED_OUT)) ?? null;
  const next = change(now);
  if (next) await tx.objectStore("kept").put(next, SIGNED_OUT);
  else await tx.objectStore("kept").delete(SIGNED_OUT);
  await tx.done;
  channel()?.postMessage("person");
  return next;
}

/** Tell the office of a sign-out it has not heard of; throws NoAnswer when it cannot be reached. */
async function tellOffice(database, fetch) {
  const said = await readSignOut(database);
  if (!said?.pending) return;
  await askOffice(
    fetch,
    address("/sign-out", { of: said.sign_in }),
    { method: "POST", headers: { Accept: "application/json" } },
    SIGN_OUT_MS,
  );
  await writeSignOut(database, (now) => (now?.at === said.at ? { ...now, pending: false } : now));
}

/** Open the phone for who has signed in since; false while nobody has. Throws NoAnswer. */
async function openAgain(database, fetch) {
  const said = await readSignOut(database);
  const pack = await askOffice(fetch, "/pack");
  if (said?.sign_in && pack.sign_in === said.sign_in) {
    await writeSignOut(database, (now) => now && { ...now, pending: true });
    return false;
  }
  await keepPack(database, pack);
  await writeSignOut(database, () => null);
  return true;
}

/** Sign out here and now; true when the office has heard of it too. */
export async function signOut(database, fetch) {
  const pack = await (await database()).get("kept", KEY);
  const fresh = {
    by: pack?.person.id ?? null,
    name: pack?.person.name ?? "",
    sign_in: pack?.sign_in ?? null,
    at: new Date().toISOString(),
    pending: true,
  };
  await writeSignOut(database, (now) => now ?? fresh);
  try {
    await tellOffice(database, fetch);
    return true;
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
    return false;
  }
}

const signInLink = (words) =>
  el(
    "a",
    {
      class: "button main",
      href: `/sign-in?next=${encodeURIComponent(location.pathname + location.search)}`,
    },
    words,
  );

/** What is on the phone, in numbers only: whose and where is for those who sign in. */
async function heldWords(context) {
  const waiting = (await context.outbox.all()).filter(
    ({ state }) => state === "waiting" || state === "refused",
  ).length;
  const drafts = (await context.drafts.all()).length;
  const parts = [
    waiting ? counted(waiting, "entry", "entries") : null,
    drafts ? counted(drafts, "half-filled form") : null,
  ].filter(Boolean);
  const stay =
    waiting + drafts === 1
      ? "It stays here for the one who typed it."
      : "They stay here, each for the one who typed it.";
  return {
    waiting,
    words: parts.length
      ? `On this phone, not at the office: ${parts.join(" and ")}. ${stay}`
      : "Nothing on this phone waits to be sent.",
  };
}

export async function startSignedOut(context) {
  const panel = el("section", { class: "panel", id: "signed-out-panel" });
  const saved = el("p", { role: "status" });
  for (const part of [...byId("main").children]) show(part, false);
  byId("main").append(panel);
  document.title = "Signed out \u00b7 Sillbook";
  byId("state-why").textContent = "";
  if (byId("back"))
    Object.assign(byId("back"), { href: "/field" }).lastChild.textContent = " Sillbook";
  const line = byId("state-line");

  async function draw(contact) {
    const said = await readSignOut(context.database);
    if (!said) return location.reload();
    const { waiting, words } = await heldWords(context);
    line.textContent = waiting ? `Signed out \u00b7 ${waiting} not at the office` : "Signed out";
    line.dataset.calm = String(!waiting);
    return fill(
      panel,
      el("h1", {}, "Signed out"),
      el(
        "p",
        {},
        said.pending
          ? `${said.name || "The last person"} signed out on this phone. The office has not heard of it yet: the phone says so at the next contact, before anything else.`
          : `${said.name || "The last person"} signed out, and the office knows.`,
      ),
      el("p", {}, words),
      el(
        "p",
        { id: "contact" },
        contact
          ? "Sign in to go on."
          : "No reply from the office now. Signing in needs the office, for whoever it is: until then nobody can read or record on this phone. Write figures on paper.",
      ),
      el("p", {}, signInLink("Sign in")),
      waiting
        ? el(
            "p",
            {},
            el("button", { type: "button", id: "file", onclick: save }, "Save all to a file"),
          )
        : null,
      saved,
    );
  }

  async function save() {
    const { saveToFile } = await import("../keep/outbox_file.js");
    await saveToFile(context);
    saved.textContent = "Saved. Keep the file until the office has taken it.";
  }

  let trying = false;
  async function attempt() {
    if (trying) return;
    trying = true;
    let contact = true;
    try {
      await tellOffice(context.database, context.fetch);
      if (await openAgain(context.database, context.fetch)) {
        location.reload();
        return;
      }
    } catch (error) {
      if (!(error instanceof NoAnswer)) throw error;
      contact = error.kind === "signed out";
    } finally {
      trying = false;
    }
    await draw(contact);
  }

  await draw(navigator.onLine);
  whenPersonChanges(async () => (await readSignOut(context.database)) || location.reload());
  sendWhenPossible(attempt, { window, document });
  await attempt();
}

/** Before the first sites: what to do, in order. */
export function noPackYet(context) {
  const main = byId("main");
  const reason =
    context.kind === "signed out"
      ? "You are signed out."
      : "The office cannot be reached just now.";
  for (const part of main.children) show(part, part.tagName === "H1");
  main.append(
    el(
      "section",
      { class: "panel" },
      el("h2", {}, "This phone has no sites yet"),
      el(
        "p",
        {},
        `${reason} Sites, ratings and gauge zeros come from the office once; ` +
          "after that this phone works without signal.",
      ),
      el(
        "ol",
        {},
        el("li", {}, "Find a place with signal, or join the office network."),
        el("li", {}, "Sign in. The sites load by themselves."),
        el("li", {}, "Add Sillbook to the home screen, open it once more, and go."),
      ),
      el("p", {}, signInLink("Sign in")),
    ),
  );
}

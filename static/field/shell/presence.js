/**
 * Who may be shown and saved on this phone: the person of the kept sites, until they sign out.
 *
 * A sign-out holds at once, with or without signal: `kept` "signed_out" is {by, name, sign_in, at,
 * pending} from then until somebody signs in. While `pending` the office has not heard of it.
 */
export const SIGNED_OUT = "signed_out";

export const readSignOut = async (database) =>
  (await (await database()).get("kept", SIGNED_OUT)) ?? null;

export const channel = () =>
  globalThis.BroadcastChannel ? new BroadcastChannel("sillbook") : null;

/** Hear that somebody signed in or out in another tab. */
export function whenPersonChanges(heard) {
  const hears = channel();
  if (hears) hears.onmessage = heard;
}

/** `who()` is null when nobody is; `mayHold` refuses an entry of anybody else. */
export function makePresence(database, pack) {
  const who = async () =>
    (await readSignOut(database)) ? null : ((await pack.read())?.person ?? null);
  return {
    who,
    mayHold: async (entry) => {
      const person = await who();
      if (person?.id === entry.by) return;
      throw new Error(`${person?.name ?? "nobody"} is signed in on this phone now`);
    },
  };
}

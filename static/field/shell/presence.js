/**
 * Who may be shown and saved on this phone: the person of the kept sites, until they sign out.
 *
 * A sign-out holds at once, with or without signal: `kept` "signed_out" is {by, name, sign_in, at,
 * pending} from then until somebody signs in. While `pending` the office has not heard of it.
 */
import { KEY as PACK, PERSON } from "../keep/pack.js";

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

/** Both may be read at once: the person of the pack, while no sign-out stands. */
const personOf = ([said, pack]) => (said ? null : (pack?.person ?? null));

/**
 * `who()` is null when nobody is; `mayHold` refuses an entry of anybody else. It reads `kept` of the
 * transaction that writes the entry: nobody signs out between the look and the writing. The whole
 * pack is read only before a refusal: pages of the release before kept no person beside it.
 */
export function makePresence(database, pack) {
  const who = async () => personOf(await Promise.all([readSignOut(database), pack.read()]));
  return {
    who,
    mayHold: async (entry, kept) => {
      const [said, theirs] = await Promise.all([kept.get(SIGNED_OUT), kept.get(PERSON)]);
      if (!said && theirs?.id === entry.by) return;
      const person = personOf([said, await kept.get(PACK)]);
      if (person?.id === entry.by) return;
      throw new Error(`${person?.name ?? "nobody"} is signed in on this phone now`);
    },
  };
}

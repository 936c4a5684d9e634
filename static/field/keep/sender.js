/** The sender of a page: what it sends, for whom, and what the page learns of it. */

import { uuid7 } from "../base/uuid7.js";
import { phoneId } from "./pack.js";
import { makePost, makeSender, onlyOne } from "./sync.js";

export const pageSender = (context) =>
  makeSender({
    outbox: context.outbox,
    post: async (entries) =>
      makePost(context.fetch, await phoneId(context.database, uuid7))(entries),
    person: context.present,
    alone: onlyOne(navigator.locks),
    after: async (personId) => {
      const photos = await context.photos();
      if ((await photos?.send(context.outbox, context.fetch, personId))?.sent)
        await context.drawAgain?.();
    },
    onResult: async (result) => {
      const asked = result.sent > 0 || result.left > 0; // else the office was not asked: nothing new
      const news = result.sent > 0 || (asked && result.why !== context.why);
      if (asked) Object.assign(context, { kind: result.kind ?? null, why: result.why });
      if (result.kind === "other person") await context.refreshPack();
      if (news) await context.drawAgain?.();
      await context.showState();
    },
  });

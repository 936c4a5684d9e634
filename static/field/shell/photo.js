/** What a photo shows, put right (?fix=UUID of a refused one) or said later (?correct=UUID). */
import { byId, el, fill, show } from "../../shared/dom.js";
import { stateMark } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
import { observedAt, text } from "../typed/text.js";
import { dressPlace, entryForm, fillBoxes, notHere, placeOf, showSaved } from "./entry_form.js";
import { photoEntry, readBearing } from "./photos_box.js";
import { startPage } from "./start.js";

const form = byId("form");
let place = null;
const life = entryForm({
  title: () => `Photo, ${place.site.name}`,
  isHalf: ({ touched }) => Boolean(touched),
  noun: "photo",
  boxOf: ([field]) =>
    form.elements[{ caption: "caption", bearing_deg: "bearing" }[field]] ?? byId("picture"),
});

async function open(ctx, pack) {
  if (place) return undefined;
  const where = await placeOf(ctx, pack, ["photo"]);
  if (!where.site || !where.record) return notHere("photo");
  place = where;
  const { entry } = where.record;
  byId("structure").textContent = [where.site.name, where.structure?.name, entry.body.place]
    .filter(Boolean)
    .join(" \u00b7 ");
  dressPlace(place);
  const values = await life.open(ctx, place, {
    bareKey: `photo:${where.record.id}`,
    start: () => ({
      id: uuid7(),
      caption: entry.body.caption,
      bearing: text(entry.body.bearing_deg),
      reason: entry.body.caption ? "" : "said later", // a first caption needs no other reason
    }),
  });
  fillBoxes(form, values);
  await drawPicture(ctx, entry.body);
  return life.rest();
}

async function drawPicture(ctx, { sha256, caption }) {
  const row = (await (await ctx.photos())?.get(sha256)) ?? null;
  const sent = place.record.state === "stored"; // then the office may have what this phone let go
  fill(
    byId("picture"),
    row
      ? el("img", {
          src: URL.createObjectURL(new Blob([row.bytes], { type: "image/jpeg" })),
          alt: caption || "the photo",
        })
      : sent
        ? el("img", {
            src: `/kept/${sha256}`,
            alt: `${caption || "the photo"}, kept at the office`,
          })
        : el("p", { class: "problem" }, "The picture itself is not on this phone any more."),
  );
}

form.addEventListener("input", ({ target }) => {
  Object.assign(life.values, { [target.name]: target.value, touched: true });
  life.typed();
});

/** The entry that it belongs to may have been put right under another id meanwhile. */
async function belongsTo(ctx, id) {
  const record = id ? await ctx.outbox.get(id) : null;
  return record?.replaced_by ? belongsTo(ctx, record.replaced_by) : id;
}

form.addEventListener("submit", (event) => {
  let direction = null;
  return life.save(event, {
    problems: () => {
      direction = readBearing(life.values.bearing);
      return direction.problem;
    },
    entry: async () => {
      const { entry } = place.record;
      const now = new Date().toISOString();
      const taken = {
        ...entry.body,
        caption: life.values.caption.trim(),
        bearing_deg: direction.degrees,
      };
      const made = photoEntry(taken, {
        ...place,
        of: await belongsTo(life.context(), entry.body.of),
        now,
        id: life.values.id,
      });
      const whole = {
        ...made,
        observed_at: observedAt(place, now),
        corrects: entry.corrects,
        reason: entry.reason,
        body: { ...made.body, bytes: entry.body.bytes },
      };
      await (await life.context().photos())?.follow(entry.body.sha256, whole); // first: bytes without a record are sent all the same
      return whole;
    },
    done: () => {
      showSaved(
        form,
        el("p", { class: "big" }, stateMark("on this phone")),
        el("p", {}, el("a", { class: "button main", href: "/field/outbox" }, "Back to the outbox")),
      );
      show(byId("picture"), true);
    },
  });
});

startPage(open);

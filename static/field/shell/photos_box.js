/**
 * "Take a photo" on a page, by the camera or from those on the phone: shrunk and encoded anew here,
 * so that position and camera data stay on the phone; kept at once, with what it shows. Of a picture
 * from the gallery the time it names goes along.
 */

import { el, fill } from "../../shared/dom.js";
import { siteTime } from "../../shared/format.js";
import { parseNumber } from "../../shared/numbers.js";
import { stateMark, stateWord } from "../base/states.js";
import { uuid7 } from "../base/uuid7.js";
import { openFieldDatabase } from "../keep/database.js";
import { makePhotos } from "../keep/photos.js";

const LONGEST_PX = 2048;
const QUALITY = 0.82;

/** Returns {bytes, width_px, height_px}: upright, at most 2048 pixels a side, JPEG. */
async function shrink(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  if (!blob) throw new Error("this phone cannot encode the picture");
  return { bytes: await blob.arrayBuffer(), width_px: canvas.width, height_px: canvas.height };
}

export async function sha256Of(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export function photoEntry(taken, { site, structure, visitId, personId, of, now, id }) {
  const { sha256, caption, place, bearing_deg, width_px, height_px, bytes } = taken;
  const { at = now, time_from = null } = taken;
  return {
    id,
    kind: "photo",
    site_id: site.id,
    structure_id: structure?.id ?? null,
    visit_id: visitId ?? null,
    observed_at: at,
    utc_offset_min: site.utc_offset_min,
    by: personId,
    saved_at: now,
    corrects: null,
    reason: null,
    body: {
      sha256,
      caption,
      place,
      bearing_deg,
      of,
      width_px,
      height_px,
      bytes: bytes.byteLength,
      ...(time_from ? { time_from } : {}),
    },
  };
}

/** What is said of the time of a picture from the gallery; of the camera's it is the entry's own. */
function timeWords({ observed_at, utc_offset_min, body }) {
  if (!body.time_from) return "";
  const time = siteTime(observed_at, utc_offset_min);
  return body.time_from === "picture"
    ? `${time}, time from the picture`
    : `${time}, time chosen: the picture names none`;
}

/** When a picture of the gallery was taken, by its own words, else when it was chosen. */
async function galleryTime(file, { site }, now) {
  const { timeOf } = await import("../base/picture_time.js");
  const at = await timeOf(file, site.utc_offset_min, now);
  return at ? { at, time_from: "picture" } : { time_from: "chosen" };
}

/** {degrees, problem} of a bearing as typed; null degrees when it is empty. */
export function readBearing(typed) {
  const degrees = typed.trim() ? parseNumber(typed, { high: 360 }) : null;
  const right = !typed.trim() || (degrees >= 0 && degrees <= 360 && degrees !== null);
  return {
    degrees: right ? degrees : null,
    problem: right ? "" : "A bearing lies between 0 and 360 degrees.",
  };
}

/**
 * A panel for one page. `where()` gives {site, structure, visitId, personId, of, place} at the
 * moment of taking; `of` is the id of the entry the photos belong to, `before` that of the refused
 * one which it puts right.
 */
export function photoBox(context, where, { title = "Photos", hint = "" } = {}) {
  const pictures = { type: "file", accept: "image/\u002a", class: "unseen" };
  const camera = el("input", { ...pictures, capture: "environment" });
  const gallery = el("input", pictures);
  const caption = el("input", { maxlength: "200", placeholder: "What it shows" });
  const bearing = el("input", { inputmode: "decimal", maxlength: "5", placeholder: "0 to 360" });
  const problem = el("p", { class: "problem", role: "alert" });
  const list = el("ul", { class: "photos" });
  const addresses = [];
  const kept = makePhotos(openFieldDatabase);

  let drawing = Promise.resolve();

  /** One after another: a picture's address is given up only when no picture shows it. */
  function draw() {
    drawing = drawing.then(drawNow);
    return drawing;
  }

  async function drawNow() {
    const { of, before } = where();
    const all = await context.outbox.all();
    const corrected = new Set(all.map(({ entry }) => entry.corrects));
    const records = all.filter(
      ({ id, entry, state }) =>
        entry.kind === "photo" &&
        (entry.body.of === of || (before && entry.body.of === before)) &&
        state !== "replaced" &&
        !corrected.has(id),
    );
    const old = addresses.splice(0);
    fill(list, await Promise.all(records.map(picture)));
    old.forEach((address) => URL.revokeObjectURL(address));
  }

  async function picture(record) {
    const { sha256, caption: words } = record.entry.body;
    const row = await kept.get(sha256);
    const address = row
      ? URL.createObjectURL(new Blob([row.bytes], { type: "image/jpeg" }))
      : `/kept/${sha256}`;
    if (row) addresses.push(address);
    const state =
      record.state === "stored" && row && !row.sent_epoch ? "on this phone" : stateWord(record);
    return el(
      "li",
      {},
      el("img", { src: address, alt: words || "photo without a caption" }),
      el("span", {}, words || "no caption"),
      el("span", { class: "aside" }, timeWords(record.entry)),
      el(
        "a",
        {
          class: "quiet",
          href: `/field/photo?${record.state === "refused" ? "fix" : "correct"}=${record.id}`,
        },
        words ? "Change the caption" : "Say what it shows",
      ),
      stateMark(state),
      row?.problem ? el("span", { class: "problem" }, row.problem) : null,
    );
  }

  async function taken({ target: file }) {
    const chosen = file.files[0];
    file.value = "";
    problem.textContent = "";
    if (!chosen) return;
    const direction = readBearing(bearing.value);
    problem.textContent = direction.problem;
    if (direction.problem) return;
    try {
      if (!globalThis.crypto?.subtle)
        throw new Error("photos need the HTTPS address of the office");
      const small = await shrink(chosen);
      const sha256 = await sha256Of(small.bytes);
      const here = where();
      const now = new Date().toISOString();
      const time = file === gallery ? await galleryTime(chosen, here, now) : {};
      const entry = photoEntry(
        {
          ...small,
          ...time,
          sha256,
          caption: caption.value.trim(),
          place: here.place ?? "",
          bearing_deg: direction.degrees,
        },
        { ...here, now, id: uuid7() },
      );
      await kept.keep({
        sha256,
        bytes: small.bytes,
        by: here.personId,
        entry_id: entry.id,
        taken_at: entry.saved_at,
        sent_epoch: null,
        problem: null,
        held: false,
      });
      await context.outbox.hold(entry);
      await kept.markHeld(sha256);
      caption.value = "";
      await draw();
      await context.showState();
      context.send();
    } catch (error) {
      problem.textContent = `NOT kept: ${error.message}. Take it again, or keep it in the phone's own camera.`;
    }
  }

  for (const one of [camera, gallery]) one.addEventListener("change", taken);
  draw();
  const node = el(
    "section",
    { class: "panel photo-box" },
    el("h2", {}, title),
    hint ? el("p", { class: "aside" }, hint) : null,
    el("label", { class: "field" }, "Caption", caption),
    el("label", { class: "field" }, "Looking towards, degrees from north", bearing),
    el(
      "div",
      { class: "beside" },
      el("label", { class: "button take" }, "Take a photo", camera),
      el("label", { class: "button take" }, "From the gallery", gallery),
    ),
    problem,
    list,
    el(
      "p",
      { class: "aside" },
      "Made smaller and sent after all readings. Position data stays on the phone.",
    ),
  );
  return { node, draw };
}

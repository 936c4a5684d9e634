/** A logger file as an entry: what was picked, and how far the logger's clock ran. */
import { parseNumber } from "../../shared/numbers.js";
import { observedAt } from "../typed/text.js";

const HALF_DAY_S = 43200;

/**
 * Logger time minus true time in seconds, from what its display shows ("14:03:20") at an instant.
 * The nearest difference is taken, so a display of hours and minutes of a day is enough.
 */
export function clockFast(shown, now, utcOffsetMin) {
  const found = /^([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?$/.exec(shown.trim());
  if (!found) return null;
  const logger = Number(found[1]) * 3600 + Number(found[2]) * 60 + Number(found[3] ?? 0);
  const site = Math.floor(Date.parse(now) / 1000) + utcOffsetMin * 60;
  const away = logger - (((site % 86400) + 86400) % 86400);
  if (away > HALF_DAY_S) return away - 86400;
  return away < -HALF_DAY_S ? away + 86400 : away;
}

/** The first lines of a file as a person would know it by; no line is longer than a screen. */
export function firstLines(bytes, most = 6) {
  const head = new Uint8Array(bytes.slice(0, 2000));
  const wide = head[0] === 0xff && head[1] === 0xfe;
  const text = new TextDecoder(wide ? "utf-16le" : "utf-8").decode(head);
  return text
    .split(/\r\n|\r|\n/)
    .filter((line) => line.trim())
    .slice(0, most)
    .map((line) => line.slice(0, 80));
}

/** Returns {problem} or {entry}; `picked` is {sha256, name, size}. */
export function loggerFileEntry(
  values,
  picked,
  { id, site, structure, visitId, personId, record, now },
) {
  if (!picked) return { problem: "Choose the file first." };
  const typed = values.clock_fast.trim();
  const clock = typed ? parseNumber(typed) : null;
  if (typed && clock === null)
    return { problem: "The clock's error is a number of seconds, such as 35 or -120." };
  return {
    entry: {
      id,
      kind: "logger_file",
      site_id: site.id,
      structure_id: structure.id,
      visit_id: visitId ?? null,
      observed_at: observedAt({ record }, now),
      utc_offset_min: site.utc_offset_min,
      by: personId,
      saved_at: now,
      corrects: null,
      reason: null,
      body: {
        sha256: picked.sha256,
        name: picked.name.slice(0, 200),
        size: picked.size,
        serial: values.serial.trim(),
        downloaded_at: record?.entry.body.downloaded_at ?? now,
        clock_fast_s: clock,
        note: values.note.trim(),
      },
    },
  };
}

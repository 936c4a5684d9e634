/** The time in a picture: headers of JPEG files written by Pillow 12, its own reading of the standard. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { timeIn } from "../../../static/field/base/picture_time.js";

const NOW = "2026-11-25T10:00:00.000Z";
const bytes = (text) => Uint8Array.from(Buffer.from(text, "base64")).buffer;
const PLAIN =
  "/9j/4AAQSkZJRgABAQAAAQABAAD/4QBIRXhpZgAATU0AKgAAAAgAAYdpAAQAAAABAAAAGgAAAAAAAZADAAIAAAAUAAAALAAAAAAyMDI2OjA4OjE0IDA2OjMwOjAwAP/aAAI=";
const WITH_OFFSET =
  "/9j/4AAQSkZJRgABAQAAAQABAAD/4QCeRXhpZgAATU0AKgAAAAgAAodpAAQAAAABAAAAJoglAAQAAAABAAAAYAAAAAAAApADAAIAAAAUAAAARJARAAIAAAAHAAAAWAAAAAAyMDI2OjA4OjE0IDA2OjMwOjAwAC0wMzozMAAAAAIAAQACAAAAAk4AAAAAAgAFAAAAAwAAAH4AAAAAAAAAAQAAAAEAAAACAAAAAQAAAAMAAAAB/9oAAg==";

test("a picture says when it was taken, in the site's time where it names no other", () => {
  assert.equal(timeIn(bytes(PLAIN), 720, NOW), "2026-08-13T18:30:00.000Z");
  assert.equal(timeIn(bytes(PLAIN), 0, NOW), "2026-08-14T06:30:00.000Z");
  assert.equal(timeIn(bytes(WITH_OFFSET), 720, NOW), "2026-08-14T10:00:00.000Z");
});

test("a picture without a time that can be says none", () => {
  assert.equal(timeIn(bytes(PLAIN), 0, "2026-08-14T06:29:59Z"), null, "it lies ahead");
  const whole = bytes(PLAIN);
  for (let cut = 0; cut < whole.byteLength - 12; cut += 1)
    assert.equal(timeIn(whole.slice(0, cut), 0, NOW), null, `cut at ${cut}`);
  assert.equal(timeIn(new Uint8Array([0x89, 0x50, 0x4e, 0x47, 13, 10]).buffer, 0, NOW), null);
});

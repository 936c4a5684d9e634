/** A form that is touched before its script is there; common practice. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { typedEarly } from "../../../static/field/reading/early.js";

const box = (name, more) => ({ name, type: "text", value: "", defaultValue: "", ...more });

test("a form tells what was typed, ticked and chosen in it, and only that", () => {
  const elements = [
    box("note", { value: "clear" }),
    box("gate"),
    box("", { type: "submit", value: "Save" }),
    box("tail", { type: "radio", value: "not_seen", checked: true, defaultChecked: true }),
    box("occasion", { type: "radio", value: "during", checked: true, defaultChecked: false }),
    box("conditions", { type: "checkbox", value: "weed", checked: true, defaultChecked: false }),
    box("conditions", { type: "checkbox", value: "ice", checked: true, defaultChecked: false }),
    box("conditions", { type: "checkbox", value: "silt", checked: false, defaultChecked: false }),
  ];
  assert.deepEqual(typedEarly({ elements }), {
    note: "clear",
    occasion: "during",
    conditions: ["weed", "ice"],
  });
  assert.deepEqual(typedEarly({ elements: [box("note"), box("gate")] }), {});
});

test("a figure in the box of the tail staff says that it was read", () => {
  const elements = [box("tail_text", { value: "20" })];
  assert.deepEqual(typedEarly({ elements }), { tail_text: "20", tail: "read" });
});

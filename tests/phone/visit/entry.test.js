/** A visit from the form to its entry, changed and put right. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { emptyVisit, visitEntry, visitValues } from "../../../static/field/visit/entry.js";

const context = {
  site: { id: 3, utc_offset_min: 720 },
  structure: { id: 5 },
  visitId: "v",
  personId: 1,
  now: "2026-11-25T09:20:00.000Z",
};

const SITE = { id: 1, head_unit: "mm", utc_offset_min: 720 };

const NOW = "2026-11-25T10:00:00.000Z";

test("a visit's change is a correction of the visit, at the visit's time", () => {
  const values = { ...emptyVisit("v1"), observers: "Tamsin, , Rudd", cautions_read: true };
  const site = { id: 3, utc_offset_min: 720 };
  const first = visitEntry(values, { site, personId: 1, visit: null, now: context.now });
  assert.deepEqual(first.body.observers, ["Tamsin", "Rudd"]);
  assert.equal(first.corrects, null);
  const second = visitEntry(
    { ...values, id: "v2", reason: "note added" },
    { site, personId: 1, visit: { record: { entry: first } }, now: "2026-11-25T11:00:00.000Z" },
  );
  assert.deepEqual(
    [second.corrects, second.observed_at, second.body.started_at],
    ["v1", first.observed_at, first.body.started_at],
  );
});

test("a visit that is put right keeps when it began", () => {
  const context = { site: SITE, personId: 1, visit: null };
  const first = visitEntry({ ...emptyVisit("v"), note: "long" }, { ...context, now: NOW });
  const record = { entry: first, refusal: { field: "body.note" } };
  const again = visitEntry(
    { ...visitValues(first, "v"), note: "short" },
    { ...context, record, now: "2026-11-25T12:00:00.000Z" },
  );
  assert.deepEqual(
    [again.observed_at, again.body.started_at, again.corrects, again.body.note],
    [NOW, NOW, null, "short"],
  );
});

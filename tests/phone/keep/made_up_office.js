/** An office that stores each record once and can be told to fail, and phones with records. */
import { makeOutbox } from "../../../static/field/keep/outbox.js";
import { memoryDatabase } from "../memory_database.js";

export const entry = (id, by = 1) => ({ id, kind: "visit", by, body: {} });
export const json = (body, status = 200) =>
  new Response(JSON.stringify(body), { status, headers: { "Content-Type": "application/json" } });

/** An office that stores each id once and can be told to fail. */
export function office() {
  const held = new Set();
  const self = { held, epoch: "e1", requests: [], fault: null };
  self.fetch = async (_url, options) => {
    const { entries } = JSON.parse(options.body);
    self.requests.push(entries.map((one) => one.id));
    const early = self.fault?.before?.(entries);
    if (early) return early;
    const receipts = entries.map(({ id }) => ({
      id,
      state: held.has(id) ? "already_held" : "stored",
      notes: [],
    }));
    for (const { id } of entries) held.add(id);
    const late = self.fault?.after?.(receipts);
    if (late) return late;
    return json({
      protocol: 1,
      server_epoch: self.epoch,
      received_at: "2026-11-25T09:15:01Z",
      receipts,
    });
  };
  return self;
}

export async function phone(count, by = 1) {
  const outbox = makeOutbox(memoryDatabase().open);
  for (let i = 0; i < count; i++) await outbox.hold(entry(`id-${String(i).padStart(4, "0")}`, by));
  return outbox;
}

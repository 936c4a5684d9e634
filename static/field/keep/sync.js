/**
 * Send what waits on this phone; settle only what the office has answered for, record by record.
 *
 * One sender at a time across tabs, by a Web Lock where there is one. Sending twice is harmless:
 * the office knows each record by its id.
 */
import { askOffice, NoAnswer } from "./office.js";

const BATCH = 50;
const MOST_ALONE = 3;
const EVERY_MS = 30000;

export function makePost(fetch, phone) {
  return (entries) =>
    askOffice(fetch, "/sync", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ protocol: 1, phone, sent_at: new Date().toISOString(), entries }),
    });
}

/** Run `work` under the lock `name`, or not at all when another tab holds it. */
export function onlyOne(locks, name = "sillbook-send") {
  let inThisPage = false;
  return async (work) => {
    if (inThisPage) return null;
    inThisPage = true;
    try {
      if (!locks) return await work();
      return await locks.request(name, { ifAvailable: true }, (lock) => (lock ? work() : null));
    } finally {
      inThisPage = false;
    }
  };
}

async function sendBatch(outbox, post, batch) {
  const answer = await post(batch);
  if (!Array.isArray(answer.receipts) || typeof answer.server_epoch !== "string") {
    throw new NoAnswer("no reply", "The office replied without receipts.");
  }
  await outbox.noticeEpoch(answer.server_epoch);
  const sentIds = new Set(batch.map((entry) => entry.id));
  const settled = await outbox.settle(answer.receipts, sentIds, answer.server_epoch);
  const foreign = answer.receipts.some((r) => r?.state === "refused" && r.field === "by");
  if (foreign && settled.length === 0) {
    throw new NoAnswer(
      "other person",
      "Another person is signed in now; these wait for their owner.",
    );
  }
  if (settled.length === 0) {
    throw new NoAnswer("no reply", "The office replied without a receipt for these records.");
  }
  return settled.length;
}

/** Send everything that waits for `personId`. Returns {sent, left, kind, why}. */
export async function drain(outbox, post, personId) {
  const skip = new Set(); // records the office cannot read even alone: they wait, others go on
  let size = BATCH;
  let sent = 0;
  let problem = null;
  let failed = ""; // the batch that the office's fault met once
  let alone = 0; // records left aside for a fault since anything was sent
  for (;;) {
    const waiting = (await outbox.waiting(personId)).filter((entry) => !skip.has(entry.id));
    if (waiting.length === 0) break;
    const batch = waiting.slice(0, size);
    try {
      sent += await sendBatch(outbox, post, batch);
      alone = 0;
    } catch (error) {
      if (!(error instanceof NoAnswer)) throw error;
      problem = error;
      if (error.kind === "crash") {
        const same = batch.map((entry) => entry.id).join();
        const twice = failed === same;
        failed = same;
        if (!twice) continue;
        if (batch.length === 1 && ++alone > MOST_ALONE) break; // the office fails whatever is sent
      } else if (error.kind !== "batch") break;
      if (batch.length === 1) skip.add(batch[0].id);
      else size = Math.ceil(batch.length / 2);
    }
  }
  const left = (await outbox.waiting(personId)).length;
  return { sent, left, kind: left ? problem?.kind : undefined, why: left ? problem?.message : "" };
}

/**
 * The page's sender: `send()` drains now and tells `onResult`; a call during a run starts another
 * run after it, so that a record saved meanwhile is not left for the timer.
 */
export function makeSender({
  outbox,
  post,
  person,
  alone,
  onResult = () => {},
  after = async () => {},
}) {
  let again = false;
  let running = null;

  async function run() {
    let result = null;
    do {
      again = false;
      const who = await person();
      if (who === null) return null;
      result = await alone(async () => {
        const drained = await drain(outbox, post, who.id);
        if (!drained.left) await after(who.id); // what is heavy goes last, under the same lock
        return drained;
      });
      if (result) await onResult(result);
    } while (again);
    return result;
  }

  return {
    send() {
      if (running) again = true;
      running ??= run().finally(() => {
        running = null;
      });
      return running;
    },
  };
}

/** Send on load, on return of the network, when the page is seen again, and every 30 s. */
export function sendWhenPossible(send, { window, document }) {
  const visible = () => document.visibilityState === "visible" && send();
  window.addEventListener("online", send);
  window.addEventListener("pageshow", send);
  document.addEventListener("visibilitychange", visible);
  window.setInterval(visible, EVERY_MS);
}

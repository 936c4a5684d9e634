/** Sending: only a whole answer with its own receipts changes anything on the phone. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { askOffice, NoAnswer } from "../../../static/field/keep/office.js";
import { drain, makePost, makeSender, onlyOne } from "../../../static/field/keep/sync.js";
import { entry, json, office, phone } from "./made_up_office.js";

test("everything goes in batches of at most 50, each entry once", async () => {
  const here = office();
  const outbox = await phone(120);
  const result = await drain(outbox, makePost(here.fetch, "phone-1"), 1);
  assert.deepEqual([result.sent, result.left], [120, 0]);
  assert.deepEqual(
    here.requests.map((ids) => ids.length),
    [50, 50, 20],
  );
  assert.equal(here.held.size, 120);
});

const faults = {
  "signed out (401)": [() => json({ field: "session" }, 401), "signed out"],
  "a redirect to a sign-in page": [
    () =>
      Object.defineProperty(new Response(null, { status: 200 }), "type", {
        value: "opaqueredirect",
      }),
    "signed out",
  ],
  "a server fault (500)": [() => new Response("oops", { status: 500 }), "crash"],
  "a gateway's fault (503, HTML)": [
    () => new Response("<h1>busy</h1>", { status: 503, headers: { "Content-Type": "text/html" } }),
    "fault",
  ],
  "forbidden (403)": [() => json({ field: "role" }, 403), "fault"],
  "an HTML page with 200": [
    () => new Response("<html>Welcome", { status: 200, headers: { "Content-Type": "text/html" } }),
    "no reply",
  ],
  "JSON of something else": [() => json({ hello: 1 }), "no reply"],
  "no receipts": [() => json({ protocol: 1, server_epoch: "e1" }), "no reply"],
  "receipts without an epoch": [() => json({ protocol: 1, receipts: [] }), "no reply"],
  "an empty list of receipts": [
    () => json({ protocol: 1, server_epoch: "e1", receipts: [] }),
    "no reply",
  ],
  "receipts of strangers": [
    () => json({ protocol: 1, server_epoch: "e1", receipts: [{ id: "x", state: "stored" }] }),
    "no reply",
  ],
  "no network": [() => Promise.reject(new TypeError("Failed to fetch")), "no reply"],
};
for (const [name, [before, kind]] of Object.entries(faults)) {
  test(`${name}: nothing changes, and the words say why`, async () => {
    const here = office();
    here.fault = { before };
    const outbox = await phone(3);
    const result = await drain(outbox, makePost(here.fetch, "p"), 1);
    assert.deepEqual([result.sent, result.left, result.kind], [0, 3, kind]);
    assert.ok(result.why.length > 10);
    assert.ok(here.requests.length <= (kind === "crash" ? 10 : 1), "no hammering");
  });
}

test("the office stores, then the answer breaks off: kept, and stored once after all", async () => {
  const here = office();
  here.fault = {
    after: () =>
      new Response('{"protocol":1,"receipts":[{"id":"id-00', {
        headers: { "Content-Type": "application/json" },
      }),
  };
  const outbox = await phone(3);
  const first = await drain(outbox, makePost(here.fetch, "p"), 1);
  assert.deepEqual([first.sent, first.left], [0, 3]);
  assert.match(first.why, /broke off/);
  here.fault = null;
  const second = await drain(outbox, makePost(here.fetch, "p"), 1);
  assert.deepEqual([second.sent, second.left, here.held.size], [3, 0, 3]);
});

test("receipts for some: those leave, the others are sent again", async () => {
  const here = office();
  let cut = true;
  here.fault = {
    after: (receipts) => {
      if (!cut) return false;
      cut = false;
      return json({ protocol: 1, server_epoch: "e1", receipts: receipts.slice(0, 1) });
    },
  };
  const outbox = await phone(3);
  const result = await drain(outbox, makePost(here.fetch, "p"), 1);
  assert.deepEqual([result.sent, result.left], [3, 0]);
  assert.deepEqual(
    here.requests.map((ids) => ids.length),
    [3, 2],
  );
});

test("an answer that never comes ends in words", async () => {
  const hanging = (_url, { signal }) =>
    new Promise((_, reject) => signal.addEventListener("abort", () => reject(signal.reason)));
  await assert.rejects(
    askOffice(hanging, "/pack", {}, 20),
    (error) => error instanceof NoAnswer && /in time/.test(error.message),
  );
});

test("one entry that the office cannot read holds up no other", async () => {
  const here = office();
  const poison = "id-0060";
  here.fault = {
    before: (entries) =>
      entries.some(({ id }) => id === poison) &&
      json({ field: "entries", rule: "not readable", remedy: "Save it to a file" }, 422),
  };
  const outbox = await phone(100);
  const result = await drain(outbox, makePost(here.fetch, "p"), 1);
  assert.deepEqual([result.sent, result.left, result.kind], [99, 1, "batch"]);
  assert.match(result.why, /not readable/);
  assert.deepEqual(
    (await outbox.waiting(1)).map(({ id }) => id),
    [poison],
  );
});

test("somebody else is signed in: the entries wait for their owner", async () => {
  const here = office();
  here.fault = {
    after: (receipts) =>
      json({
        protocol: 1,
        server_epoch: "e1",
        receipts: receipts.map(({ id }) => ({
          id,
          state: "refused",
          field: "by",
          rule: "r",
          remedy: "m",
        })),
      }),
  };
  const outbox = await phone(2);
  const result = await drain(outbox, makePost(here.fetch, "p"), 1);
  assert.deepEqual([result.sent, result.left, result.kind], [0, 2, "other person"]);
});

test("a restored office is given its entries again", async () => {
  const here = office();
  const outbox = await phone(2);
  await drain(outbox, makePost(here.fetch, "p"), 1);
  here.held.clear();
  here.epoch = "e2";
  await outbox.hold(entry("id-new"));
  await drain(outbox, makePost(here.fetch, "p"), 1);
  assert.deepEqual([...here.held].sort(), ["id-0000", "id-0001", "id-new"]);
});

test("under a lock one sender works and the other steps back", async () => {
  const names = new Set();
  const locks = {
    async request(name, { ifAvailable }, work) {
      assert.equal(ifAvailable, true);
      if (names.has(name)) return work(null);
      names.add(name);
      try {
        return await work({ name });
      } finally {
        names.delete(name);
      }
    },
  };
  const tabs = [onlyOne(locks), onlyOne(locks)];
  let running = 0;
  const work = async () => {
    running += 1;
    assert.equal(running, 1);
    await new Promise(setImmediate);
    running -= 1;
    return "done";
  };
  assert.deepEqual(await Promise.all(tabs.map((alone) => alone(work))), ["done", null]);
  assert.equal(await tabs[1](work), "done");
});

test("two tabs without locks send the same entries; each is stored once", async () => {
  const here = office();
  const outbox = await phone(10);
  const tab = () => onlyOne(undefined)(() => drain(outbox, makePost(here.fetch, "p"), 1));
  await Promise.all([tab(), tab()]);
  assert.equal(here.held.size, 10);
  assert.equal((await outbox.waiting(1)).length, 0);
});

test("a record saved while sending goes in the same call", async () => {
  const here = office();
  const outbox = await phone(1);
  let during = true;
  const sender = makeSender({
    outbox,
    post: async (entries) => {
      if (during) {
        during = false;
        await outbox.hold(entry("late"));
        sender.send();
      }
      return makePost(here.fetch, "p")(entries);
    },
    person: async () => ({ id: 1 }),
    alone: onlyOne(undefined),
  });
  await sender.send();
  assert.ok(here.held.has("late"));
});

test("without a person nothing is sent", async () => {
  const here = office();
  const outbox = await phone(1);
  const sender = makeSender({
    outbox,
    post: makePost(here.fetch, "p"),
    person: async () => null,
    alone: onlyOne(undefined),
  });
  assert.equal(await sender.send(), null);
  assert.equal(here.requests.length, 0);
});

test("a batch that meets the office's fault twice is split, and one poisonous record waits alone", async () => {
  const here = office();
  here.fault = {
    before: (entries) =>
      entries.some(({ id }) => id === "id-0007") && new Response("oops", { status: 500 }),
  };
  const outbox = await phone(60);
  const result = await drain(outbox, makePost(here.fetch, "phone-1"), 1);
  assert.deepEqual([result.sent, result.left, result.kind], [59, 1, "crash"]);
  assert.deepEqual(
    (await outbox.waiting(1)).map((one) => one.id),
    ["id-0007"],
  );
  assert.equal(here.requests[0].length, 50);
  assert.deepEqual(here.requests[0], here.requests[1]);
  assert.equal(here.requests[2].length, 25);
});

test("an office that fails whatever is sent is left alone after a few tries", async () => {
  const here = office();
  here.fault = { before: () => new Response("oops", { status: 502 }) };
  const outbox = await phone(60);
  const result = await drain(outbox, makePost(here.fetch, "phone-1"), 1);
  assert.deepEqual([result.sent, result.left, result.kind], [0, 60, "crash"]);
  assert.ok(here.requests.length < 30, `${here.requests.length} requests`);
});

for (const status of [503, 507]) {
  test(`an office that says ${status} is asked once, whole, and later`, async () => {
    const here = office();
    here.fault = { before: () => json({ field: "database" }, status) };
    const outbox = await phone(60);
    const result = await drain(outbox, makePost(here.fetch, "phone-1"), 1);
    assert.deepEqual(
      [result.sent, result.left, result.kind, here.requests.length],
      [0, 60, "fault", 1],
    );
  });
}

/**
 * Ask the office computer something, or say in words why there is no answer.
 *
 * Only status 200 with a whole JSON body of our own protocol counts as an answer. Everything else
 * throws `NoAnswer`, whose `kind` is for code and whose message is for people.
 */
export class NoAnswer extends Error {
  constructor(kind, words) {
    super(words);
    this.kind = kind; // "signed out" | "no reply" | "fault" | "crash" | "batch"
  }
}

const WORDS = {
  network: "No reply: no signal, or the office computer is off.",
  slow: "The office did not reply in time.",
  cut: "The reply broke off half-way. It is sent again; the office stores each record only once.",
  stranger: "Something else replied instead of the office, such as the start page of a network.",
  signedOut: "You are signed out. Sign in to send.",
};

async function refusalOf(response) {
  try {
    const { field, rule, remedy } = await response.json();
    return [rule, remedy].filter(Boolean).join(". ") || `field ${field}`;
  } catch {
    return `status ${response.status}`;
  }
}

export async function askOffice(fetch, url, options = {}, timeoutMs = 20000) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), timeoutMs);
  try {
    const response = await fetch(url, {
      credentials: "same-origin",
      redirect: "manual",
      cache: "no-store",
      ...options,
      signal: stop.signal,
    });
    if (response.status === 401 || response.type === "opaqueredirect") {
      throw new NoAnswer("signed out", WORDS.signedOut);
    }
    if (response.status >= 500) {
      // 503 and 507 speak of the office as a whole; any other may be the fault of what was sent
      throw new NoAnswer(
        [503, 507].includes(response.status) ? "fault" : "crash",
        `The office computer has a fault (${response.status}).`,
      );
    }
    if ([400, 413, 422].includes(response.status)) {
      throw new NoAnswer("batch", `The office cannot read this: ${await refusalOf(response)}`);
    }
    if (response.status !== 200) {
      throw new NoAnswer("fault", `The office did not accept it (${response.status}).`);
    }
    if (!(response.headers.get("content-type") ?? "").includes("json")) {
      throw new NoAnswer("no reply", WORDS.stranger);
    }
    const answer = await whole(response, stop.signal);
    if (answer?.protocol !== 1) throw new NoAnswer("no reply", WORDS.stranger);
    return answer;
  } catch (error) {
    if (error instanceof NoAnswer) throw error;
    throw new NoAnswer("no reply", stop.signal.aborted ? WORDS.slow : WORDS.network);
  } finally {
    clearTimeout(timer);
  }
}

async function whole(response, signal) {
  try {
    return JSON.parse(await response.text());
  } catch {
    throw new NoAnswer("no reply", signal.aborted ? WORDS.slow : WORDS.cut);
  }
}

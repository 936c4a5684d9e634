// Rating again while the browser watches: how far it is, and a way to stop before anything is kept.
import { LINES, linesOf } from "./lines.js";

const form = document.querySelector("[data-watched]");
const box = document.querySelector("#progress");

function node(tag, attributes, text = "") {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.textContent = text;
  return made;
}

function end(title, words) {
  const heading = node("h2", { tabindex: "-1" }, title);
  box.replaceChildren(heading, node("p", {}, words));
  form.hidden = false;
  heading.focus();
}

function shown(answer, bar) {
  if (answer.html) {
    // from our own server's template, already escaped; what the look said is history now
    for (const part of document.querySelectorAll("main > :not(#progress, h1, .trail)"))
      part.remove();
    document.querySelector("main h1").textContent = "Rated again";
    box.innerHTML = answer.html;
    box.querySelector("h2").focus();
    return true;
  }
  if (answer.error) {
    const { field, value, rule, remedy } = answer.error;
    end("Not rated again", `${field} ${value}: ${rule}. ${remedy}`);
    return true;
  }
  if (answer.cancelled) {
    end("Stopped", "Nothing was changed.");
    return true;
  }
  if (answer.total) [bar.max, bar.value] = [answer.total, answer.done];
  return false;
}

async function act(event) {
  event.preventDefault();
  const stop = new AbortController();
  const bar = node("progress", { max: "1", "aria-label": "Rating again" });
  const cancel = node("button", { type: "button", class: "quiet" }, "Stop");
  cancel.addEventListener("click", () => stop.abort());
  box.replaceChildren(node("h2", { tabindex: "-1" }, "Rating again"), bar, cancel);
  [form.hidden, box.hidden] = [true, false];
  try {
    const response = await fetch(form.action, {
      method: "POST",
      headers: { accept: LINES },
      body: new URLSearchParams(new FormData(form)),
      signal: stop.signal,
    });
    if (!response.headers.get("content-type")?.startsWith(LINES)) {
      form.submit(); // the server wants to say something on its page: let it
      return;
    }
    for await (const answer of linesOf(response)) if (shown(answer, bar)) return;
    end("No answer", "The connection broke off. Load this page again to see whether it was done.");
  } catch (error) {
    if (stop.signal.aborted)
      end(
        "Stopped",
        "Nothing was changed, unless it was done already: load this page again to see.",
      );
    else
      end(
        "No answer",
        `The connection broke off (${error.message}). Load this page again to see whether it was done.`,
      );
  }
}

if (form) form.addEventListener("submit", act);

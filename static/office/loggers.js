// Taking a long file in: progress as the server reports it, and a way to stop.
import { LINES, linesOf } from "./lines.js";

const form = document.querySelector("[data-import]");
const box = document.querySelector("#progress");
const go = form?.querySelector("[data-go]");

function newLoggerBoxes() {
  const boxes = form.querySelector("[data-new-logger]");
  const choice = form.querySelector("#logger");
  if (!boxes || !choice) return;
  const show = () => boxes.toggleAttribute("hidden", choice.value !== "new");
  choice.addEventListener("change", show);
  show();
}

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

function show(answer, bar, words) {
  if (answer.html) {
    box.innerHTML = answer.html; // from our own server's template, already escaped
    box.querySelector("h2").focus();
    return true;
  }
  if (answer.error) {
    const { field, value, rule, remedy } = answer.error;
    end("Not imported", `${field} ${value}: ${rule}. ${remedy}`);
    return true;
  }
  if (answer.cancelled) {
    end("Cancelled", "Nothing was taken in.");
    return true;
  }
  const read = answer.total && answer.done < answer.total;
  if (answer.total) [bar.max, bar.value] = [answer.total, answer.done];
  if (answer.total && !read) bar.removeAttribute("value");
  words.textContent = !answer.total
    ? "Opening the file"
    : read
      ? "Reading the rows"
      : "Working the flows out";
  return false;
}

async function take(event) {
  event.preventDefault();
  const stop = new AbortController();
  const bar = node("progress", { max: "1", "aria-label": "Import" });
  const words = node("p", {}, "Opening the file");
  const cancel = node("button", { type: "button", class: "quiet" }, "Cancel");
  cancel.addEventListener("click", () => stop.abort());
  box.replaceChildren(node("h2", { tabindex: "-1" }, "Importing"), bar, words, cancel);
  [form.hidden, box.hidden] = [true, false];
  box.scrollIntoView({ block: "nearest" });
  try {
    const response = await fetch(form.action, {
      method: "POST",
      headers: { accept: LINES },
      body: new URLSearchParams(new FormData(form)),
      signal: stop.signal,
    });
    if (!response.headers.get("content-type")?.startsWith(LINES)) {
      form.hidden = false; // the server wants to say something on its page: let it
      form.method = "post";
      form.submit();
      return;
    }
    for await (const answer of linesOf(response)) if (show(answer, bar, words)) return;
    end(
      "No answer",
      "The connection broke off. Look at the files taken in to see whether it arrived.",
    );
  } catch (error) {
    if (stop.signal.aborted) end("Cancelled", "Nothing was taken in.");
    else
      end(
        "No answer",
        `The connection broke off (${error.message}). Look at the files taken in to see whether it arrived.`,
      );
  }
}

if (form) newLoggerBoxes();
if (go) go.addEventListener("click", take);

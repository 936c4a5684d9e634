// The queue by keyboard. Every key presses a button, ticks a box or follows a link of the page, and
// what one stands on, what is selected and the page are in its address.
const KEYS_OFF = "sillbook-review-keys-off";

const form = document.querySelector("[data-queue]");
const find = (what, within = document) => within.querySelector(what);
const items = [...document.querySelectorAll("[data-item]")];
const words = form && find("[name=text]", form);
const said = find("[data-said]");
const came = new URL(location.href).searchParams;
const keysOn = find("[data-keys-on]");

let current = items.find((item) => "current" in item.dataset) ?? items[0];
let waits = ""; // the answer that Enter in the words sends
let sending = false;

const box = (item) => find("input[type=checkbox]", item);
const selected = () => items.filter((item) => box(item).checked);
const chosen = () => (selected().length ? selected() : [current]);
const button = (action) => form && find(`button[value="${action}"]`, form);
const titleOf = (item) => find("label .unseen", item).textContent.replace("Select ", "");

/** Write where one stands and what is selected into the address, so that Back finds it again. */
function remember() {
  const here = new URL(form.dataset.address, location.href);
  here.searchParams.set("at", current.dataset.item);
  const marks = selected().map((item) => item.dataset.item);
  if (marks.length) here.searchParams.set("selected", marks.join("."));
  history.replaceState(history.state, "", here);
}

/** Say on the page what the next answer is for, and name the buttons by what they then do. */
function describe() {
  const about = chosen();
  const many = selected().length;
  for (const item of items) item.toggleAttribute("data-chosen", about.includes(item));
  const accepts = new Set(about.map((item) => item.dataset.accept));
  find("[data-about]").textContent =
    many > 1 ? `For the ${many} selected.` : `For: ${titleOf(about[0])}.`;
  find("[data-hint]").textContent =
    many > 1 ? "Say why, once for all of them." : "Words are needed to return or comment.";
  find("[data-every]").checked = many === items.length;
  const open = about.some((item) => item.dataset.state === "open");
  for (const [action, shown] of [
    ["accept", open],
    ["accept with correction", open && about.some((item) => "aside" in item.dataset)],
    ["return", open],
    ["reopen", about.some((item) => item.dataset.state !== "open")],
  ]) {
    if (button(action)) button(action).hidden = !shown;
  }
  const accept = button("accept");
  if (accept) accept.textContent = accepts.size === 1 ? [...accepts][0] : `Accept all ${many}`;
}

function stand(item, { focus = true } = {}) {
  current?.removeAttribute("aria-current");
  current = item;
  current.setAttribute("aria-current", "true");
  if (focus) {
    current.focus({ preventScroll: true });
    current.scrollIntoView({ block: "nearest" });
  }
  describe();
  remember();
}

const step = (by) => stand(items[items.indexOf(current) + by] ?? current);

function tick(which, on) {
  for (const item of which) box(item).checked = on;
  describe();
  remember();
}

function selectAlike() {
  const alike = items.filter((item) => item.dataset.alike === current.dataset.alike);
  tick(alike, !alike.every((item) => box(item).checked));
  said.textContent = `${selected().length} selected`;
}

/** Ask for the words that an answer needs; Enter then sends it. */
function ask(action) {
  waits = action;
  const name = button(action).textContent.toLowerCase();
  find("[data-hint]").textContent = `Say why. Enter: ${name}; Esc: not now.`;
  words.focus();
}

function needsWords(action) {
  return action === "accept" || action === "accept with correction"
    ? selected().length > 1
    : action !== "";
}

function press(action) {
  if (button(action) && !button(action).hidden) button(action).click();
}

form?.addEventListener("submit", (event) => {
  const action = event.submitter?.value ?? "";
  if (sending || !action) return event.preventDefault();
  if (needsWords(action) && !words.value.trim()) {
    event.preventDefault();
    return ask(action);
  }
  const about = chosen();
  if (!selected().length) {
    find("[data-key]").value = box(current).name.replace("pick:", "");
    find("[data-revision]").value = box(current).value;
  }
  const last = items.indexOf(about.at(-1));
  const after = items.slice(last + 1).find((item) => !about.includes(item));
  find("[data-next]").value = (action === "comment" ? current : after)?.dataset.item ?? "end";
  find("[data-row]").value = String(items.indexOf(about[0]));
  sending = true;
});

const KEYS = {
  j: () => (document.activeElement === document.body ? stand(current) : step(1)),
  k: () => step(-1),
  x: () => tick([current], !box(current).checked),
  l: selectAlike,
  a: () => press("accept"),
  s: () => press("accept with correction"),
  r: () => press("return"),
  c: () => press("comment"),
  o: () => press("reopen"),
  u: () => {
    const undo = find("[data-undo]");
    if (undo && !sending) undo.click();
    sending ||= Boolean(undo);
  },
  n: () => find("a[rel=next]")?.click(),
  p: () => find("a[rel=prev]")?.click(),
};

document.addEventListener("keydown", (event) => {
  const on = event.target;
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
  if (on === words) {
    if (event.key === "Escape") {
      waits = "";
      stand(current);
    } else if (event.key === "Enter" && waits && !event.shiftKey) {
      event.preventDefault();
      if (words.value.trim()) press(waits);
    }
    return;
  }
  if (on.closest("select, textarea, [contenteditable], input:not([type=checkbox])")) return;
  if (event.key === "Enter" && on.matches("[data-item]")) return find("a[href]", on)?.click();
  const off = keysOn ? !keysOn.checked : localStorage.getItem(KEYS_OFF) !== null;
  if (off || event.repeat || !KEYS[event.key]) return;
  if (!items.length && event.key !== "u") return;
  event.preventDefault();
  KEYS[event.key]();
});

if (form) {
  for (const part of document.querySelectorAll("[data-needs-script]")) part.hidden = false;
  form.addEventListener("click", (event) => {
    const item = event.target.closest("[data-item]");
    const by = event.target.closest("[data-step]");
    if (by) step(Number(by.dataset.step));
    else if (event.target.closest("[data-select-alike]")) selectAlike();
    else if (item && !event.target.closest("a, label")) stand(item);
  });
  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-every]")) return tick(items, event.target.checked);
    const item = event.target.closest("[data-item]");
    if (item) stand(item, { focus: false });
  });
  keysOn.checked = localStorage.getItem(KEYS_OFF) === null;
  keysOn.addEventListener("change", () => {
    if (keysOn.checked) localStorage.removeItem(KEYS_OFF);
    else localStorage.setItem(KEYS_OFF, "1");
  });
  current.setAttribute("aria-current", "true");
  describe();
  if (came.has("at") || came.has("done")) stand(current);
}

if (!form && came.has("done")) find("[data-empty]")?.focus();

// A page that comes back from the browser's memory may be sent again.
addEventListener("pageshow", () => {
  sending = false;
});

// What is written into the region while the page is being built is not read out.
const did = find("[data-words]");
if (did && came.has("done")) {
  setTimeout(() => {
    said.textContent = `${did.textContent} ${said.dataset.left}.`;
  }, 150);
}

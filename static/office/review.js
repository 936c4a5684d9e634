// The queue by keyboard: keys work while an item, not a text box, has the focus.
const queue = document.querySelector("[data-queue]");
const items = queue ? [...queue.querySelectorAll("[data-item]")] : [];

function go(item) {
  item?.focus();
  item?.scrollIntoView({ block: "nearest" });
}

const button = (item, action) => item.querySelector(`button[value="${action}"]`);

function withWords(item, action) {
  const box = item.querySelector("[name=text]");
  if (box.value.trim()) return button(item, action)?.click();
  item.dataset.pending = action; // Enter in the box then sends this answer
  box.placeholder = action === "return" ? "Why? Enter returns it" : "Your comment; Enter sends it";
  return box.focus();
}

const KEYS = {
  j: (item) => go(items[items.indexOf(item) + 1]),
  k: (item) => go(items[items.indexOf(item) - 1]),
  a: (item) => button(item, "accept")?.click(),
  r: (item) => withWords(item, "return"),
  c: (item) => withWords(item, "comment"),
  Enter: (item) => item.querySelector("[data-open]")?.click(),
};

queue?.addEventListener("keydown", (event) => {
  const item = event.target.closest("[data-item]");
  if (!item || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.target.name === "text") {
    if (event.key === "Escape") go(item);
    if (event.key === "Enter" && item.dataset.pending) {
      event.preventDefault();
      button(item, item.dataset.pending)?.click();
    }
    return;
  }
  if (event.target !== item || !KEYS[event.key]) return;
  event.preventDefault();
  KEYS[event.key](item);
});

const asked = items.find((item) => `#${item.id}` === location.hash);
const mine = items.find((item) => "mine" in item.dataset);
if (mine) go(mine);
else if (location.hash.startsWith("#i-")) go(asked ?? items.at(-1));
else if (items.length) items[0].tabIndex = 0;
for (const item of items) item.tabIndex = 0;

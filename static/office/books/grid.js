// The sheet of old readings: boxes for the rows in view, the checks of every row from the server.
import { rowsOf } from "./paste.js";
import { mark, node, post } from "./told.js";

const IN_VIEW = 50;
const FIRST = 20;
const WITH = { question: "with a question" };
const REST_MS = 350; // after the last key before the rows are checked

const section = document.querySelector("[data-books]");
const address = section.dataset.books;
const columns = section.dataset.columns.split(" ");
const about = section.querySelector("[data-about]");
const body = section.querySelector("[data-grid] tbody");
const titles = Object.fromEntries(
  [...section.querySelectorAll("[data-column]")].map((th) => [th.dataset.column, th.textContent]),
);
const summary = section.querySelector("[data-summary]");
const take = section.querySelector("[data-take]");

let rows = [];
let next = 1;
let part = 0;
let told = new Map();
let timer = 0;
let asking = false;
let again = false;
let taken = null;

const filled = (row) => Object.values(row.cells).some((text) => text.trim());

function add(count) {
  for (let k = 0; k < count; k += 1) rows.push({ row: next++, cells: {} });
}

function draw() {
  const begin = part * IN_VIEW;
  body.replaceChildren(...rows.slice(begin, begin + IN_VIEW).map(line));
  const last = Math.min(begin + IN_VIEW, rows.length);
  section.querySelector("[data-part]").textContent =
    `Rows ${begin + 1} to ${last} of ${rows.length}`;
  section.querySelector("[data-newer]").disabled = part === 0;
  section.querySelector("[data-older]").disabled = last >= rows.length;
}

function line(row) {
  const boxes = columns.map((column) => {
    const input = node("input", {
      "aria-label": `${titles[column]}, row ${row.row}`,
      autocomplete: "off",
      "data-of": column,
      value: row.cells[column] ?? "",
    });
    return node("td", {}, input);
  });
  const made = node(
    "tr",
    { "data-row": row.row },
    node("th", { scope: "row", class: "number" }, String(row.row)),
    ...boxes,
    node("td", { class: "number", "data-discharge": "" }),
    node("td", { "data-check": "" }),
  );
  mark(made, told.get(row.row), answered);
  return made;
}

/** Give a row its answer, as its cell would have it typed. */
function answered(number, answer) {
  rows.find((one) => one.row === number).cells.answer = answer;
  const box = body.querySelector(`[data-row="${number}"] [data-of="answer"]`);
  box.value = answer;
  box.focus();
  soon();
}

function soon() {
  clearTimeout(timer);
  section.toggleAttribute("data-checking", true);
  timer = setTimeout(checkNow, REST_MS);
}

const sheet = () => Object.fromEntries(new FormData(about));
const content = () => ({ sheet: sheet(), rows: rows.filter(filled) });

/** Ask the server about the whole sheet; one question at a time, the newest last. */
async function checkNow() {
  if (asking) {
    again = true;
    return;
  }
  asking = true;
  try {
    const asked = content();
    if (asked.rows.length === 0) told = new Map();
    else {
      // the name of the book is needed only when the rows are taken in
      asked.sheet.name ||= "not named yet";
      const found = await post(`${address}/look`, asked);
      told = new Map(found.rows.map((one) => [one.row, one]));
    }
    tell();
  } catch (error) {
    summary.textContent = `The rows could not be checked (${error.message}).`;
  }
  asking = false;
  if (again) {
    again = false;
    await checkNow();
  } else section.toggleAttribute("data-checking", false);
}

function tell() {
  for (const made of body.children) mark(made, told.get(Number(made.dataset.row)), answered);
  const counts = {};
  for (const one of told.values()) counts[one.state] = (counts[one.state] ?? 0) + 1;
  const said = Object.entries(counts).map(([state, count]) => `${count} ${WITH[state] ?? state}`);
  summary.replaceChildren(...(taken ?? []), said.length ? `In the sheet: ${said.join(", ")}.` : "");
  if (!taken && said.length === 0) summary.textContent = "Nothing typed yet.";
}

async function takeIn() {
  if (!about.reportValidity()) return;
  take.disabled = true;
  summary.textContent = "Taking in…";
  try {
    const found = await post(address, content());
    const done = new Set();
    const counts = { stored: 0, "on record": 0 };
    for (const one of found.rows) {
      if (one.state in counts) {
        counts[one.state] += 1;
        done.add(one.row);
      }
    }
    told = new Map(found.rows.filter((one) => !done.has(one.row)).map((one) => [one.row, one]));
    rows = rows.filter((one) => !done.has(one.row));
    add(Math.max(0, FIRST - rows.length));
    part = 0;
    taken = [
      `${counts.stored} stored, ${counts["on record"]} on record already. `,
      ...(counts.stored
        ? [node("a", { href: `/books/${found.batch}` }, "Look at the batch"), ". "]
        : []),
    ];
    draw();
    tell();
  } catch (error) {
    summary.textContent = `Not taken in: ${error.message}`;
  }
  take.disabled = false;
}

/** Say which columns no title here names: they are not in the sheet. */
function leftOut(left) {
  return left.length > 0 ? [`Left out, no column here is called so: ${left.join(", ")}. `] : null;
}

async function readFile(file) {
  try {
    const found = await post(`${address}/file`, file);
    rows = found.rows;
    next = Math.max(0, ...rows.map((one) => one.row)) + 1;
    if (found.flow_unit && about.elements.flow_unit) {
      about.elements.flow_unit.value = found.flow_unit;
    }
    if (found.unit) about.elements.unit.value = found.unit;
    about.elements.name.value ||= file.name;
    about.elements.kind.value = "spreadsheet";
    part = 0;
    taken = leftOut(found.left);
    draw();
    soon();
  } catch (error) {
    summary.textContent = `The file was not read: ${error.message}`;
  }
}

function focus(place, column) {
  if (place < 0) return;
  if (place >= rows.length) add(1);
  if (
    Math.floor(place / IN_VIEW) !== part ||
    !body.querySelector(`[data-row="${rows[place].row}"]`)
  ) {
    part = Math.floor(place / IN_VIEW);
    draw();
  }
  const box = body.querySelector(`[data-row="${rows[place].row}"] [data-of="${column}"]`);
  box.focus();
  box.select();
}

function placeOf(input) {
  const number = Number(input.closest("tr").dataset.row);
  return rows.findIndex((one) => one.row === number);
}

body.addEventListener("input", ({ target }) => {
  rows[placeOf(target)].cells[target.dataset.of] = target.value;
  soon();
});

body.addEventListener("keydown", (event) => {
  const box = event.target;
  if (!box.dataset.of) return;
  const at = columns.indexOf(box.dataset.of);
  const begin = box.selectionEnd === 0;
  const end = box.selectionStart === box.value.length;
  const whole = box.selectionStart === 0 && box.selectionEnd === box.value.length;
  let move = null;
  if (event.key === "Enter") move = [event.shiftKey ? -1 : 1, 0];
  else if (event.key === "ArrowDown") move = [1, 0];
  else if (event.key === "ArrowUp") move = [-1, 0];
  else if (event.key === "ArrowLeft" && (begin || whole)) move = [0, -1];
  else if (event.key === "ArrowRight" && (end || whole)) move = [0, 1];
  if (!move || event.altKey || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  focus(placeOf(box) + move[0], columns[Math.min(Math.max(at + move[1], 0), columns.length - 1)]);
});

body.addEventListener("paste", (event) => {
  const text = event.clipboardData.getData("text/plain");
  const box = event.target;
  if (!box.dataset.of || !/[\t\n;,]/.test(text.trim())) return;
  const { rows: found, left } = rowsOf(text, columns, box.dataset.of);
  if (found.length === 1 && Object.keys(found[0]).length === 1) return;
  event.preventDefault();
  const begin = placeOf(box);
  if (begin + found.length > rows.length) add(begin + found.length - rows.length);
  found.forEach((cells, k) => Object.assign(rows[begin + k].cells, cells));
  taken = leftOut(left);
  draw();
  focus(begin, box.dataset.of);
  soon();
});

about.addEventListener("input", soon);
about.addEventListener("submit", (event) => event.preventDefault());
take.addEventListener("click", takeIn);
section.querySelector("[data-file]").addEventListener("change", ({ target }) => {
  if (target.files[0]) readFile(target.files[0]);
  target.value = "";
});
section.querySelector("[data-more]").addEventListener("click", () => {
  add(FIRST);
  part = Math.floor((rows.length - 1) / IN_VIEW);
  draw();
});
section.querySelector("[data-drop]").addEventListener("click", () => {
  rows = [];
  part = 0;
  taken = null;
  add(FIRST);
  draw();
  soon();
});
for (const [name, by] of [
  ["newer", -1],
  ["older", 1],
]) {
  section.querySelector(`[data-${name}]`).addEventListener("click", () => {
    part += by;
    draw();
  });
}
window.addEventListener("beforeunload", (event) => {
  if (rows.some(filled)) event.preventDefault();
});

add(FIRST);
draw();

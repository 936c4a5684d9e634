// What the server says of the rows of a sheet, and how it stands beside them.

export function node(tag, attributes, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

/** Send a sheet or a file, and return the answer; what is refused is an error in words. */
export async function post(where, content) {
  const file = content instanceof Blob;
  const answer = await fetch(where, {
    method: "POST",
    headers: {
      accept: "application/json",
      "content-type": file ? "application/octet-stream" : "application/json",
    },
    body: file ? content : JSON.stringify(content),
  });
  const found = await answer.json();
  if (!answer.ok) throw new Error(wordsOf(found.error ?? found));
  return found;
}

function wordsOf({ field, value, rule, remedy }) {
  return [field, value, rule, remedy].filter(Boolean).join(": ");
}

/** Write beside a row what the server says of it; its boxes are left alone. */
export function mark(made, said, answered) {
  const check = made.querySelector("[data-check]");
  made.querySelector("[data-discharge]").textContent = said?.discharge ?? "";
  made.className = said ? said.state.replace(" ", "-") : "";
  check.replaceChildren();
  for (const input of made.querySelectorAll("input")) input.removeAttribute("aria-invalid");
  if (!said) return;
  check.append(node("b", {}, said.state));
  for (const fault of said.faults) {
    made.querySelector(`[data-of="${fault.field}"]`)?.setAttribute("aria-invalid", "true");
    check.append(node("span", { class: "wrong" }, `${fault.rule}. ${fault.remedy}`));
  }
  for (const ask of said.asks) check.append(node("span", { class: "ask" }, ask));
  const more = [...said.notes, said.flow, ...said.flags].filter(Boolean).join(" · ");
  if (more) check.append(node("span", { class: "quiet-text" }, more));
  if (said.state !== "question") return;
  const dry = said.asks.some((ask) => ask.includes("dry"));
  for (const answer of dry ? ["as read", "dry"] : ["as read"]) {
    const button = node(
      "button",
      { type: "button", class: "quiet small", "aria-label": `Row ${said.row}: ${answer}` },
      answer,
    );
    button.addEventListener("click", () => answered(said.row, answer));
    check.append(button);
  }
}

/** What any field page may have to say above itself; loaded when there is something to say. */
import { el } from "../../shared/dom.js";

export const update = (take, halfFilled) => [
  el("p", {}, "A new version of Sillbook is on this phone. Records and drafts stay."),
  el("p", { id: "update-wait", hidden: !halfFilled }, "Save or discard this form first."),
  el(
    "button",
    { id: "update-tap", type: "button", disabled: halfFilled, onclick: take },
    "Use the new version",
  ),
];

export const insecure = () => [
  el(
    "p",
    {},
    el("strong", {}, "No work without signal here: "),
    "this phone reaches the office by plain HTTP. Records are kept on the phone, but the pages " +
      "themselves open only with a connection. Ask the steward for the HTTPS address.",
  ),
];

/** The office asks for a new sign-in, though nobody signed out on this phone. */
export function signed_out(count) {
  const next = encodeURIComponent(location.pathname + location.search);
  const words = count ? `Sign in to send ${count}` : "Sign in";
  return [
    el(
      "p",
      {},
      "You are signed out; records and drafts stay on this phone. ",
      el("a", { href: `/sign-in?next=${next}` }, words),
    ),
  ];
}

export const broken = (error) => [
  el(
    "p",
    {},
    `This phone's storage does not answer: ${error.message}. ` +
      "Write readings on paper, and try again after closing other tabs.",
  ),
];

export const worker = (error) => [
  el("p", {}, `Pages cannot be kept for work without signal: ${error.message}`),
];

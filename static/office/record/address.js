// The view in the address: from, to (site time), what, with. Every view one went to is an entry of
// the browser's history, so that Back shows the view before.
import { siteText } from "../charts/plot.js";

const moment = (text) =>
  text === null || text === "" ? null : /^-?\d{9,}$/.test(text) ? Number(text) : text;

export function makeAddress(form) {
  let wrote = ""; // the address of the view shown
  let step = false; // the view asked for is one that Back leads back from

  const others = () =>
    [...form.querySelectorAll("[name=with]:checked")].map((box) => box.value).join(",");

  function read() {
    const asked = new URLSearchParams(location.search);
    const what = asked.get("what");
    form.elements.what.value = ["head", "tailwater"].includes(what) ? what : "discharge";
    const over = (asked.get("with") ?? "").split(",");
    for (const box of form.querySelectorAll("[name=with]")) box.checked = over.includes(box.value);
    return { from: moment(asked.get("from")), to: moment(asked.get("to")) };
  }

  function write(view, offsetMin) {
    const kept = new URLSearchParams(location.search).get("structure");
    const now = new URLSearchParams(kept === null ? {} : { structure: kept });
    now.set("from", siteText(view.from_s, offsetMin));
    now.set("to", siteText(view.to_s, offsetMin));
    if (form.elements.what.value !== "discharge") now.set("what", form.elements.what.value);
    if (others()) now.set("with", others());
    const address = `?${now}`.replaceAll("%3A", ":").replaceAll("%2C", ",");
    if (address !== wrote) history[wrote && step ? "pushState" : "replaceState"](null, "", address);
    [wrote, step] = [address, false];
    form.elements.from.value = siteText(view.from_s, offsetMin);
    form.elements.to.value = siteText(view.to_s, offsetMin);
  }

  return {
    read,
    write,
    others,
    isStep: () => step,
    setStep: (value) => {
      step = value;
    },
    /** What the browser went back or forward to; null where only a place on the page changed. */
    back() {
      if (location.search === wrote) return null;
      wrote = location.search;
      return read();
    },
  };
}

/**
 * "Read again in 2 min": runs over page changes, on this phone alone. Sound and vibration are off
 * until somebody wants them.
 */
import { counted } from "../../shared/counted.js";
import { byId, el, fill } from "../../shared/dom.js";
import { COUNTDOWN } from "../base/counting.js"; // holds {until, href, what}

const LOUD = "sillbook-countdown-loud";
const TOLD_FOR_MS = 30 * 60_000; // then nobody waits for it any more
const BEEP_S = 0.25;
const BEEP_HZ = 880;
let ticking = null;

/** What is said of a moment that lies `ms` ahead, or behind where below zero. */
export function said(ms) {
  const seconds = Math.ceil(Math.abs(ms) / 1000);
  const clock = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  if (ms > 0) return `Read again in ${clock}`;
  const minutes = Math.floor(-ms / 60_000);
  return minutes ? `Read again now: due ${counted(minutes, "minute")} ago` : "Read again now";
}

export function begin(minutes, { href, what }, storage = localStorage) {
  storage.setItem(COUNTDOWN, JSON.stringify({ until: Date.now() + minutes * 60_000, href, what }));
  show(storage);
}

function read(storage) {
  try {
    const held = JSON.parse(storage.getItem(COUNTDOWN));
    return held && Date.now() - held.until < TOLD_FOR_MS ? held : null;
  } catch {
    return null;
  }
}

/** Draw the count above the page, and go on with it. */
export function show(storage = localStorage) {
  clearInterval(ticking);
  byId("countdown")?.remove();
  const held = read(storage);
  if (!held) return storage.removeItem(COUNTDOWN);
  const clock = el("strong", { role: "timer" });
  const now = el("span", { role: "alert" });
  const loud = el("button", { type: "button", class: "quiet" });
  const sayLoud = () => {
    const on = storage.getItem(LOUD) === "on";
    loud.textContent = on ? "Sound on" : "Sound off";
    loud.setAttribute("aria-pressed", String(on));
  };
  loud.addEventListener("click", () => {
    storage.setItem(LOUD, storage.getItem(LOUD) === "on" ? "off" : "on");
    sayLoud();
    if (storage.getItem(LOUD) === "on") ring(); // heard once, so that one knows it works
  });
  const stop = () => {
    storage.removeItem(COUNTDOWN);
    show(storage);
  };
  const here = location.pathname + location.search === held.href;
  byId("notices").append(
    el(
      "div",
      { id: "countdown", class: "notice" },
      el("p", {}, clock, now, here ? null : ` \u00b7 ${held.what}`),
      el(
        "div",
        { class: "beside" },
        here ? null : el("a", { class: "button", href: held.href }, "To the reading"),
        loud,
        el("button", { type: "button", class: "quiet", onclick: stop }, "Stop"),
      ),
    ),
  );
  let wasAhead = Date.now() < held.until;
  const tick = () => {
    const left = held.until - Date.now();
    fill(clock, left > 0 ? said(left) : "");
    if (left > 0) return;
    if (now.textContent !== said(left)) now.textContent = said(left);
    if (wasAhead && storage.getItem(LOUD) === "on") ring();
    wasAhead = false;
  };
  sayLoud();
  tick();
  ticking = setInterval(tick, 500);
  return undefined;
}

function ring() {
  navigator.vibrate?.([300, 150, 300]);
  try {
    const sound = new AudioContext();
    const tone = sound.createOscillator();
    tone.frequency.value = BEEP_HZ;
    tone.connect(sound.destination);
    tone.start();
    tone.stop(sound.currentTime + BEEP_S);
    tone.onended = () => sound.close();
  } catch {
    // no sound on this phone: the words stand there
  }
}

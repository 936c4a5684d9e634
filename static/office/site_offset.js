// A new site's offset from UTC, proposed from this computer's clock; the box stays the person's.

/** Minutes east of UTC in standard time: the smaller of winter's and summer's. */
export function standardOffsetMin(year = new Date().getFullYear()) {
  const east = [0, 6].map((month) => -new Date(year, month, 1).getTimezoneOffset());
  return Math.min(...east);
}

/** Such as +12:00, as the box takes it. */
export function offsetText(minutes) {
  const two = (part) => String(part).padStart(2, "0");
  const size = Math.abs(minutes);
  return `${minutes < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

const box = globalThis.document?.getElementById("utc_offset");
if (box && !box.value && !box.hasAttribute("aria-invalid")) {
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  box.value = offsetText(standardOffsetMin());
  const hint = document.getElementById("utc_offset-hint");
  const usual = hint.textContent;
  hint.textContent = `Proposed: standard time of this computer${zone ? `, ${zone}` : ""}. Change it where the site keeps another.`;
  box.addEventListener("input", () => (hint.textContent = usual), { once: true });
}

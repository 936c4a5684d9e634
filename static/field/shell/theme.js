/** The bright-sun theme: black on white, heavier lines. The choice stays on this phone. */
const KEY = "sillbook-theme";

export function applyTheme(root, storage) {
  const sun = read(storage) === "sun";
  root.dataset.theme = sun ? "sun" : "calm";
  return sun;
}

export function switchTheme(root, storage) {
  const next = root.dataset.theme === "sun" ? "calm" : "sun";
  try {
    storage.setItem(KEY, next);
  } catch {
    // blocked storage: the theme holds for this page only
  }
  root.dataset.theme = next;
  return next === "sun";
}

function read(storage) {
  try {
    return storage.getItem(KEY);
  } catch {
    return null;
  }
}

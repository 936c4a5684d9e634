/**
 * The service worker of this page, and the offer of a new version.
 *
 * A new version waits until somebody taps, and never while a form is half filled; only the page
 * that asked for it loads again.
 */
export async function watchReleases({ serviceWorker, offer, reload }) {
  if (!serviceWorker) return null;
  let asked = false;
  serviceWorker.addEventListener("controllerchange", () => asked && reload());
  const registration = await serviceWorker.register("/sw.js", {
    scope: "/",
    updateViaCache: "none",
  });
  const ready = () => {
    // without a controller this is the first visit, not a new version
    if (!registration.waiting || !serviceWorker.controller) return;
    offer(() => {
      asked = true;
      registration.waiting?.postMessage("skip-waiting");
    });
  };
  ready();
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", ready);
  });
  return registration;
}

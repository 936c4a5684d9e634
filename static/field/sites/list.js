/** The list of sites: nearest first when the phone knows where it is, else most recently read. */
import { byId, el, fill, show } from "../../shared/dom.js";
import { distanceWords, order, whereAmI } from "../base/nearest.js";
import { ago, lastReadingAt } from "../keep/recent.js";
import { standingHere } from "../keep/standing.js";
import { startPage } from "../shell/start.js";

let here = null;
let shown = null;

async function draw(context, pack) {
  shown = [context, pack];
  byId("who").textContent = `${pack.person.name} \u00b7 sites from ${ago(pack.made_at)}`;
  const records = await context.outbox.all();
  const stand = standingHere(pack, records);
  const sites = pack.sites.map((site) => ({
    ...site,
    last_reading_at: lastReadingAt(site, records, stand),
  }));
  const inOrder = order(sites, here);
  fill(byId("sites"), inOrder.map(siteRow));
  byId("nearest").textContent =
    here && inOrder[0]?.away_m >= 0 && inOrder[0].away_m !== null
      ? `Nearest: ${inOrder[0].site.name}, ${distanceWords(inOrder[0].away_m)}.`
      : "";
  if (pack.sites.length === 0) {
    fill(
      byId("sites"),
      el("li", {}, el("p", {}, "The office has no sites yet. They are made there.")),
    );
  }
  show(byId("to-office"), true);
  const placed = pack.sites.some((site) => typeof site.latitude === "number");
  show(
    byId("by-distance"),
    placed && !here && pack.sites.length > 1 && Boolean(navigator.geolocation),
  );
}

function siteRow({ site, away_m }) {
  const unknown = here ? "distance not known" : null;
  const away = away_m === null ? unknown : distanceWords(away_m);
  const read = site.last_reading_at ? `read ${ago(site.last_reading_at)}` : "never read";
  return el(
    "li",
    {},
    el(
      "a",
      { class: "row", href: `/field/site?id=${site.id}` },
      el("strong", {}, site.name),
      el("span", {}, [away, read].filter(Boolean).join(" \u00b7 ")),
    ),
  );
}

/** Asked only when somebody taps: where the phone is is nobody's business else. */
async function byDistance() {
  here = await whereAmI(navigator.geolocation);
  if (!shown) return;
  if (here) await draw(...shown);
  else byId("by-distance").textContent = "This phone does not say where it is";
}

byId("by-distance").addEventListener("click", byDistance);

startPage(draw);

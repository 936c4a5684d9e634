/** One site: hazards first, its structures, the last readings, and the way into a visit. */
import { address, byId, el, fill, query, show } from "../../shared/dom.js";
import { dischargeLine, siteTime } from "../../shared/format.js";
import { stateMark } from "../base/states.js";
import { findSite, inForce } from "../keep/pack.js";
import { ago, nameIn, readings, reviewedIds, visits } from "../keep/recent.js";
import { standingHere } from "../keep/standing.js";
import { withZerosHere } from "../levels/provisional.js";
import { startPage } from "../shell/start.js";
import { workLinks } from "../visit/links.js";

const OPEN_VISIT_MS = 18 * 3600 * 1000;

async function draw(context, pack) {
  const site = findSite(pack, query().id);
  if (!site) {
    byId("title").textContent = "Not on this phone";
    fill(
      byId("structures"),
      el("p", {}, "This phone does not hold that site. Go back to the list."),
    );
    show(byId("start"), false);
    return;
  }
  const records = await context.outbox.all();
  document.title = `${site.name} \u00b7 Sillbook`;
  byId("title").textContent = site.name;
  byId("code").textContent = site.code;
  byId("notes").textContent = site.notes;
  byId("hazards-text").textContent = site.hazards;
  show(byId("hazards"), Boolean(site.hazards));
  byId("start").href = `/field/visit?site=${site.id}`;
  byId("plans").href = `/field/plan?site=${site.id}`;
  fill(
    byId("structures"),
    site.structures.map((structure) =>
      structurePanel(withZerosHere(structure, pack, records), site),
    ),
  );
  const stand = standingHere(pack, records);
  drawVisits(site, records, stand);
  const all = readings(site, records, reviewedIds(pack), nameIn(pack), stand).slice(0, 12);
  fill(
    byId("readings"),
    all.length
      ? all.map((one) => readingRow(site, one))
      : el("li", {}, el("p", {}, "No reading yet.")),
  );
}

function structurePanel(structure, site) {
  const now = new Date().toISOString();
  const zero = inForce(structure.gauge_zeros, now);
  const rating = inForce(structure.ratings, now);
  const lacking = [rating ? null : "no rating", zero ? null : "no gauge zero"].filter(Boolean);
  return el(
    "section",
    { class: "panel" },
    el("h3", {}, structure.name),
    el("p", {}, structure.described),
    lacking.length
      ? el("p", { class: "problem" }, `Readings can be kept, not rated: ${lacking.join(", ")}.`)
      : null,
    zero ? el("p", { class: "aside" }, zeroWords(zero, site)) : null,
    el(
      "p",
      {},
      el(
        "a",
        {
          class: "button",
          href: address("/field/reading", { structure: structure.id, occasion: "during" }),
        },
        "Read without a visit",
      ),
    ),
    el(
      "p",
      {},
      el(
        "a",
        { class: "button", href: address("/field/gauging", { structure: structure.id }) },
        "Check gauging",
      ),
    ),
    el(
      "p",
      {},
      el(
        "a",
        { class: "button", href: address("/field/logger", { structure: structure.id }) },
        "Logger file",
      ),
    ),
    workLinks(structure),
  );
}

function zeroWords({ offset_m, valid_from, provisional }, site) {
  const size = `${Math.abs(offset_m * 1000).toFixed(1)} mm`;
  const where =
    Math.abs(offset_m) < 0.00005
      ? "at the crest"
      : `${size} ${offset_m < 0 ? "below" : "above"} the crest`;
  return `Staff zero ${where}, since ${siteTime(valid_from, site.utc_offset_min).slice(0, 10)}${provisional ? ` (${provisional})` : ""}`;
}

function drawVisits(site, records, stand) {
  const isOpen = ({ record }) => Date.now() - Date.parse(record.entry.saved_at) < OPEN_VISIT_MS;
  const fresh = visits(site.id, records, stand).filter(isOpen);
  fill(
    byId("visits"),
    fresh.map(({ id, record }) =>
      el(
        "p",
        {},
        el(
          "a",
          { class: "button", href: `/field/visit?visit=${id}` },
          `Go on with the visit of ${siteTime(record.entry.observed_at, site.utc_offset_min).slice(11)}`,
        ),
      ),
    ),
  );
}

function readingRow(site, one) {
  const structure = site.structures.find((s) => s.id === one.structure_id);
  const correctable = one.record && ["waiting", "stored"].includes(one.record.state);
  return el(
    "li",
    { class: "reading-row" },
    el(
      "div",
      { class: "line" },
      el("strong", {}, dischargeLine(one.discharge_m3s, one.uncertainty_pct)),
      stateMark(one.state),
    ),
    el("p", {}, [one.flow, ...one.flags].join(" \u00b7 ")),
    el(
      "p",
      { class: "aside" },
      [
        `${siteTime(one.observed_at, site.utc_offset_min)} (${ago(one.observed_at)})`,
        (one.occasion ?? "during").replace("_", " "),
        one.by_name,
        site.structures.length > 1 ? structure?.name : null,
        one.record && one.record.state === "waiting" ? "preview" : null,
      ]
        .filter(Boolean)
        .join(" \u00b7 "),
    ),
    correctable
      ? el("a", { class: "quiet", href: `/field/reading?correct=${one.id}` }, "Correct it")
      : null,
  );
}

startPage(draw);

/** The thread of a visit: what is open, the pair of readings, what was done in it. */
import { address, byId, el, fill } from "../../shared/dom.js";
import { dischargeLine, siteTime } from "../../shared/format.js";
import { stateMark, stateWord } from "../base/states.js";
import { nameIn, readings, reviewedIds } from "../keep/recent.js";
import { recordTitle, resultWords, wayBack } from "../outbox/told.js";
import { workLinks } from "./links.js";
import { doneIn, stillOpen, workWords } from "./thread.js";

function oneReading({ discharge_m3s, uncertainty_pct, flow, state }) {
  return el(
    "div",
    {},
    el("p", {}, el("strong", {}, dischargeLine(discharge_m3s, uncertainty_pct))),
    el("p", {}, flow),
    stateMark(state),
  );
}

/** As found and as left for every structure: always a pair, even when nothing changed. */
export function drawThread({ site, visit, personId }, records, pack, stand, drafts) {
  const all = readings(site, records, reviewedIds(pack), nameIn(pack), stand).filter(
    (one) => one.record?.entry.visit_id === visit.id,
  );
  const done = doneIn(visit.id, records, stand);
  fill(
    byId("pair"),
    begun(visit, site),
    openPanel(stillOpen({ visit, site, done, drafts, personId })),
    workWords({ visit, site, done }).map((words) => el("p", {}, el("strong", {}, "Done: "), words)),
    site.structures.map((structure) =>
      structurePair(
        structure,
        all.filter((one) => one.structure_id === structure.id),
        visit,
      ),
    ),
    donePanel(done, site, pack),
  );
}

/** When it began and ended, and what was seen. */
function begun(visit, site) {
  const { body } = visit.latest.entry;
  const ended = [
    body.ended_at ? `Ended ${siteTime(body.ended_at, site.utc_offset_min)}` : "",
    body.hours ? `${body.hours} h` : "",
  ].filter(Boolean);
  return [
    el(
      "p",
      { class: "line" },
      stateMark(stateWord(visit.latest)),
      el("span", {}, `Started ${siteTime(visit.record.entry.observed_at, site.utc_offset_min)}`),
    ),
    visit.latest.id === visit.id
      ? null
      : el("p", { class: "aside" }, "Changed since it began; the first entry stays as it was."),
    body.purpose ? el("p", {}, body.purpose) : null,
    body.conditions.length ? el("p", {}, `Seen: ${body.conditions.join(", ")}`) : null,
    body.note ? el("p", {}, body.note) : null,
    ended.length ? el("p", {}, ended.join(", ")) : null,
  ];
}

function openPanel(open) {
  return el(
    "section",
    { class: "panel", id: "open", "aria-labelledby": "open-title" },
    el("h2", { id: "open-title" }, "Still open"),
    open.length
      ? el(
          "ul",
          { class: "rows" },
          open.map(({ words, href }) =>
            el(
              "li",
              {},
              href ? el("a", { class: "quiet", href, onclick: goTo }, words) : el("p", {}, words),
            ),
          ),
        )
      : el("p", {}, "Nothing: read, downloaded, ended."),
  );
}

/** The end of the visit is said in the form below, which is closed until then. */
function goTo(event) {
  if (event.currentTarget.getAttribute("href") !== "#change") return;
  byId("change").open = true;
}

function donePanel(done, site, pack) {
  return el(
    "section",
    { class: "panel", id: "done", "aria-labelledby": "done-title" },
    el("h2", { id: "done-title" }, "Done in this visit"),
    done.length
      ? el(
          "ul",
          { class: "rows" },
          done.map((record) => doneRow(record, site, pack)),
        )
      : el("p", { class: "aside" }, "Nothing recorded yet."),
  );
}

function doneRow(record, site, pack) {
  const { entry } = record;
  const structure = site.structures.find(({ id }) => id === entry.structure_id);
  const way = entry.by === pack.person.id ? wayBack(record) : null;
  return el(
    "li",
    { class: "reading-row" },
    el(
      "div",
      { class: "line" },
      el("strong", {}, recordTitle(entry)),
      stateMark(stateWord(record, reviewedIds(pack))),
    ),
    el("p", {}, resultWords(entry)),
    el(
      "p",
      { class: "aside" },
      [
        siteTime(entry.observed_at, site.utc_offset_min).slice(11),
        site.structures.length > 1 ? structure?.name : null,
        nameIn(pack)(entry.by),
      ]
        .filter(Boolean)
        .join(" \u00b7 "),
    ),
    way ? el("a", { class: "quiet", href: way.href }, way.words) : null,
  );
}

function structurePair(structure, all, visit) {
  const link = (occasion, words, kind) =>
    el(
      "a",
      {
        class: kind,
        href: address("/field/reading", {
          structure: structure.id,
          visit: visit.id,
          occasion,
        }),
      },
      words,
    );
  const side = (occasion, words) => {
    const read = all.filter((one) => one.occasion === occasion);
    return el(
      "div",
      { class: "side" },
      el("h3", {}, words),
      read.length ? read.map(oneReading) : el("p", { class: "aside" }, "not read yet"),
      read.length
        ? link(occasion, "Read again", "button")
        : link(occasion, `Read ${words}`, "button main"),
    );
  };
  const during = all.filter((one) => one.occasion === "during").length;
  return el(
    "section",
    { class: "panel" },
    el("h2", {}, structure.name),
    el("div", { class: "sides" }, side("as_found", "as found"), side("as_left", "as left")),
    during ? el("p", { class: "aside" }, `${during} more in between`) : null,
    el(
      "p",
      {},
      el(
        "a",
        {
          class: "button",
          href: address("/field/gauging", { structure: structure.id, visit: visit.id }),
        },
        "Check gauging",
      ),
    ),
    workLinks(structure, visit.id),
  );
}

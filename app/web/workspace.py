"""The one set of tabs of a site: which page lies behind which tab, said here and nowhere else.

A page of a site is a template named in `TABS`; `page()` puts the workspace around it. To add a
page: one `Leaf`. A page without a line of its own in the second row (one reading, a form) stands
among the `within` of the leaf it belongs to.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request

from app.records.database import utc_now
from app.records.sites import Site
from app.services.lists.workspace import SiteHead, site_head

ENTRY = "entries/show.html"  # its tab is that of the kind of entry


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """A page behind a tab: its words, address, template, and the templates that lie within it."""

    words: str
    href: str
    own: str
    within: tuple[str, ...] = ()
    office: bool = False


@dataclass(frozen=True)
class Tab:
    """A tab: a noun of the trade, its pages in order, and the kinds of entries behind it."""

    words: str
    leaves: tuple[Leaf, ...]
    kinds: tuple[str, ...] = ()


TABS = (
    Tab(
        "Flow",
        (
            Leaf(words="Chart", href="/structures/{structure}/record", own="record/show.html"),
            Leaf(
                words="Table", href="/structures/{structure}/record/table", own="record/table.html"
            ),
            Leaf(words="Daily flow", href="/structures/{structure}/daily", own="days/show.html"),
            Leaf(words="Totals", href="/structures/{structure}/totals", own="days/totals.html"),
            Leaf(
                words="Corrections",
                href="/structures/{structure}/layers",
                own="corrections/show.html",
            ),
            Leaf(
                words="Months and approval",
                href="/structures/{structure}/months",
                own="review/months.html",
                office=True,
            ),
            Leaf(
                words="Rate again",
                href="/sites/{site}/rate-again",
                own="rerating/look.html",
                within=("rerating/done.html",),
                office=True,
            ),
        ),
    ),
    Tab(
        "Readings",
        (
            Leaf(
                words="Readings",
                href="/sites/{site}/history",
                own="readings/history.html",
                within=("readings/show.html", "readings/correct.html"),
            ),
        ),
        kinds=("head_reading",),
    ),
    Tab(
        "Gaugings and rating",
        (
            Leaf(
                words="Check gaugings",
                href="/sites/{site}/gaugings",
                own="gaugings/index.html",
                within=("gaugings/show.html",),
            ),
            Leaf(
                words="Rating tests",
                href="/structures/{structure}/rating-tests",
                own="fits/tests.html",
            ),
            Leaf(
                words="Fits",
                href="/structures/{structure}/fits",
                own="fits/show.html",
                within=("fits/look.html",),
                office=True,
            ),
            Leaf(
                words="Rating card",
                href="/structures/{structure}/ratings/{rating}/card",
                own="fits/card.html",
            ),
            Leaf(
                words="Ratings",
                href="/structures/{structure}/ratings",
                own="ratings/index.html",
                within=("sites/rating.html",),
            ),
        ),
        kinds=("check_gauging",),
    ),
    Tab(
        "Levels and zero",
        (
            Leaf(
                words="Level runs",
                href="/sites/{site}/levels",
                own="surveys/index.html",
                within=("surveys/run.html",),
            ),
            Leaf(
                words="Gauge zero",
                href="/structures/{structure}/gauge-zeros",
                own="surveys/zeros.html",
                within=("sites/zero.html",),
            ),
        ),
        kinds=("level_run", "benchmark"),
    ),
    Tab(
        "Structure",
        (
            Leaf(
                words="Site",
                href="/sites/{site}",
                own="sites/show.html",
                within=("sites/form.html", "sites/structure_new.html"),
            ),
            Leaf(
                words="Dimensions",
                href="/structures/{structure}",
                own="sites/dimensions.html",
                within=("sites/structure_edit.html",),
            ),
            Leaf(
                words="As built",
                href="/structures/{structure}/as-built",
                own="install/as_built.html",
            ),
            Leaf(
                words="Install stops",
                href="/structures/{structure}/install",
                own="install/stops.html",
            ),
            Leaf(
                words="Commissioning",
                href="/structures/{structure}/commissioning",
                own="install/sheet.html",
            ),
            Leaf(
                words="Plans",
                href="/sites/{site}/plans",
                own="plans/index.html",
                within=("plans/form.html", "plans/show.html"),
            ),
        ),
        kinds=("plan", "install_stop", "dimension_check", "opening"),
    ),
    Tab(
        "Takes",
        (Leaf(words="Takes", href="/structures/{structure}/takes", own="takes/show.html"),),
    ),
    Tab("Visits", (), kinds=("visit",)),  # its pages: one Leaf each
    Tab(
        "Files",
        (
            Leaf(
                words="Logger files and import",
                href="/sites/{site}/loggers",
                own="loggers/index.html",
                within=("loggers/look.html", "loggers/done.html", "loggers/conflicts.html"),
                office=True,
            ),
            Leaf(words="Photos", href="/sites/{site}/photos", own="surveys/photos.html"),
        ),
        kinds=("photo", "logger_file"),
    ),
    Tab(
        "Changes",
        (Leaf(words="Changes", href="/sites/{site}/changes", own="review/changes.html"),),
        kinds=("withdrawal",),
    ),
)

LEAVES = {
    template: (tab, leaf)
    for tab in TABS
    for leaf in tab.leaves
    for template in (leaf.own, *leaf.within)
}
KINDS = {kind: tab for tab in TABS for kind in tab.kinds}


@dataclass(frozen=True)
class Link:
    """A link of the tabs as drawn; without an address the page needs a structure or a rating."""

    words: str
    href: str | None
    current: bool


@dataclass(frozen=True, kw_only=True)
class Workspace:
    """What is drawn around a page of a site."""

    head: SiteHead
    tabs: list[Link]
    leaves: list[Link]
    switch: list[Link]
    crumbs: list[Link]

    @property
    def site(self) -> Site:
        return self.head.site


def around(request: Request, template: str, context: Mapping[str, Any]) -> Workspace | None:
    """Return the workspace of a page, None for a page that is of no site."""
    site = context.get("site")
    if not isinstance(site, Site) or (template not in LEAVES and template != ENTRY):
        return None
    head = site_head(request.state.session, site, _structure_id(request, context), utc_now())
    if template == ENTRY:
        tab, leaf = KINDS.get(context["found"].entry.kind, TABS[-1]), None
    else:
        tab, leaf = LEAVES[template]
    office = request.state.person.role != "crew"
    tabs = [Link(t.words, _first_of(t, head, office=office), t is tab) for t in TABS]
    here = leaf is not None and template == leaf.own
    leaves = [
        Link(x.words, _address(x, head), here and x is leaf)
        for x in tab.leaves
        if office or not x.office
    ]
    leading = leaf or (tab.leaves[0] if tab.leaves else None)
    return Workspace(
        head=head,
        tabs=[t for t in tabs if t.href or t.current or t.words != "Visits"],
        leaves=leaves if len(leaves) > 1 else [],
        switch=_switch(head, leading) if len(head.structures) > 1 else [],
        crumbs=_crumbs(head, tab, leaf, tabs, here=here),
    )


def _structure_id(request: Request, context: Mapping[str, Any]) -> int | None:
    """Return the structure that a page is of: its own, that of its entry, or the one asked for."""
    if context.get("structure") is not None:
        found: int | None = context["structure"].id
        return found
    if context.get("structure_id"):
        return int(context["structure_id"])
    asked = request.query_params.get("structure", "")
    return int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 10 else None


def _address(leaf: Leaf, head: SiteHead, structure_id: int | None = None) -> str | None:
    """Return where a page of this site and structure lies; None where it needs one it lacks.

    A page of the whole site carries the structure along where there are several, so that the tabs
    beside it stay with that structure.
    """
    chosen = structure_id or (head.structure.id if head.structure else None)
    needs = {"{structure}": chosen, "{rating}": head.rating_id}
    if structure_id and structure_id != (head.structure and head.structure.id):
        needs["{rating}"] = None
    if any(name in leaf.href and value is None for name, value in needs.items()):
        return None
    made = leaf.href.format(site=head.site.id, structure=chosen, rating=head.rating_id)
    several = len(head.structures) > 1 and "{structure}" not in leaf.href
    return f"{made}?structure={chosen}" if several else made


def _first_of(tab: Tab, head: SiteHead, *, office: bool) -> str | None:
    for leaf in tab.leaves:
        address = _address(leaf, head) if office or not leaf.office else None
        if address:
            return address
    return None


def _switch(head: SiteHead, leaf: Leaf | None) -> list[Link]:
    """Return the other structures: the same page of each, else its dimensions."""
    found = []
    for structure in head.structures:
        address = _address(leaf, head, structure.id) if leaf else None
        chosen = head.structure is not None and structure.id == head.structure.id
        found.append(Link(structure.name, address or f"/structures/{structure.id}", chosen))
    return found


def _crumbs(
    head: SiteHead, tab: Tab, leaf: Leaf | None, tabs: list[Link], *, here: bool
) -> list[Link]:
    """Return the way to this page: the site, the tab, and the page that this one lies within."""
    top = next((t.href for t in tabs if t.current), None)
    way = [Link(head.site.name, f"/sites/{head.site.id}", False), Link(tab.words, top, False)]
    if leaf is not None and (leaf.words != tab.words or not here):
        way.append(Link(leaf.words, None if here else _address(leaf, head), here))
    return way

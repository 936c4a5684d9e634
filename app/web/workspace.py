"""What is drawn around a page of a site: its head, its tabs (`tabs.py`), and the way to it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request

from app.records.database import utc_now
from app.records.sites import Site
from app.services.lists.workspace import SiteHead, site_head
from app.web.tabs import LEAVES, TAB_OF_KIND, TABS, Leaf, Tab

ENTRY = "entries/show.html"  # its tab is that of the kind of entry


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

    @property
    def home(self) -> str:
        return home_of(self.head)


def home_of(head: SiteHead) -> str:
    """Return where the name of a site leads: the flow of the structure one is at."""
    if head.structure is None:
        return f"/sites/{head.site.id}/flow"
    return f"/structures/{head.structure.id}/record"


def around(request: Request, template: str, context: Mapping[str, Any]) -> Workspace | None:
    """Return the workspace of a page, None for a page that is of no site."""
    site = context.get("site")
    if not isinstance(site, Site) or (template not in LEAVES and template != ENTRY):
        return None
    head = site_head(request.state.session, site, _structure_id(request, context), utc_now())
    if template == ENTRY:
        tab, leaf = TAB_OF_KIND.get(context["found"].entry.kind, TABS[-1]), None
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
        tabs=tabs,
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
        return leaf.bare.format(site=head.site.id) if leaf.bare and chosen is None else None
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
    way = [Link(head.site.name, home_of(head), False), Link(tab.words, top, False)]
    if leaf is not None and (leaf.words != tab.words or not here):
        way.append(Link(leaf.words, None if here else _address(leaf, head), here))
    return way
